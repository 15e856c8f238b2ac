//! Mean spectra of prediction, export and difference, and their cross-spectrum (Welch's method, half
//! overlapping): what a linear filter between the two explains, and what it does not.

use realfft::num_complex::Complex64;

use super::lingering::Lingering;
use crate::compare::spectra::{WindowedTransform, band_power, transform_frames};

/// A stretch whose coherence falls below this, while the anchors' likeness is above
/// [`STEADY_LIKENESS`], is something else and does not count.
const FOREIGN_COHERENCE: f64 = 0.3;
const STEADY_LIKENESS: f64 = 0.8;

/// The mean spectra, by bin: the mean over the export's channels.
#[derive(Debug, Clone, Default)]
pub(in crate::compare) struct CrossSpectra {
    /// Distance of two bins, in Hz.
    pub bin_hz: f64,
    /// Prediction.
    pub zz: Vec<f64>,
    /// Export.
    pub yy: Vec<f64>,
    /// Cross-spectrum: prediction's conjugate times export.
    pub zy: Vec<Complex64>,
    /// Difference.
    pub ee: Vec<f64>,
    /// Difference from the filtered prediction; empty where there is no filter.
    pub rr: Vec<f64>,
    /// Share of the unexplained power that the filtered prediction of a moment ago explains, which is
    /// what reverberation does.
    pub lingering: f64,
    /// How many windows there were.
    pub windows: u64,
}

impl CrossSpectra {
    /// Power of a spectrum between two frequencies.
    pub fn power(&self, powers: &[f64], low_hz: f64, high_hz: f64) -> f64 {
        band_power(powers, self.bin_hz, low_hz, high_hz)
    }

    /// Power of the export that no linear filter makes of the prediction, by bin.
    pub fn unexplained(&self) -> Vec<f64> {
        if !self.rr.is_empty() {
            return self.rr.clone();
        }
        // With few windows a filter could be found for noise as well: the estimate's bias is a
        // window's share (overlap leaves about half of them independent).
        let free = 1.0 - (2.0 / self.windows.max(4) as f64).min(0.5);
        let bin = |n: usize| {
            let explained = if self.zz[n] > 0.0 { self.zy[n].norm_sqr() / self.zz[n] } else { 0.0 };
            (self.yy[n] - explained).max(0.0) / free
        };
        (0..self.yy.len()).map(bin).collect()
    }

    /// Coherence between two frequencies, weighted by power.
    pub fn coherence(&self, low_hz: f64, high_hz: f64) -> f64 {
        let heard = self.power(&self.yy, low_hz, high_hz);
        let unexplained = self.power(&self.unexplained(), low_hz, high_hz);
        if heard > 0.0 { (1.0 - unexplained / heard).clamp(0.0, 1.0) } else { 0.0 }
    }
}

/// Gathers them.
pub(super) struct CrossBook {
    transform: WindowedTransform,
    steady: bool,
    filtering: bool,
    /// Waiting samples: export, plain and, where there is a filter, filtered prediction, by channel.
    waiting: [Vec<Vec<f64>>; 3],
    bins: [Vec<Complex64>; 3],
    lingering: Lingering,
    /// Of one window, all channels.
    window: CrossSpectra,
    sums: CrossSpectra,
    channels: usize,
}

impl CrossBook {
    pub fn new(rate_hz: f64, channels: usize, likeness: f64, filtering: bool) -> Self {
        let transform = WindowedTransform::new(transform_frames(rate_hz));
        let count = transform.make_bins().len();
        let bin_hz = rate_hz / transform.frames() as f64;
        let empty = CrossSpectra {
            bin_hz,
            zz: vec![0.0; count],
            yy: vec![0.0; count],
            zy: vec![Complex64::default(); count],
            ee: vec![0.0; count],
            rr: vec![0.0; if filtering { count } else { 0 }],
            lingering: 0.0,
            windows: 0,
        };
        Self {
            steady: likeness >= STEADY_LIKENESS,
            filtering,
            waiting: [(); 3].map(|()| vec![Vec::new(); channels]),
            bins: [(); 3].map(|()| transform.make_bins()),
            lingering: Lingering::new(channels, count, bin_hz),
            window: empty.clone(),
            sums: empty,
            channels,
            transform,
        }
    }

    pub fn take(&mut self, heard: &[Vec<f64>], predicted: &[Vec<f64>], filtered: &[Vec<f64>]) {
        let kinds = if self.filtering { 3 } else { 2 };
        let signals = [heard, predicted, filtered];
        for (waiting, signals) in self.waiting.iter_mut().zip(signals).take(kinds) {
            for (waiting, signal) in waiting.iter_mut().zip(signals) {
                waiting.extend_from_slice(signal);
            }
        }
        let frames = self.transform.frames();
        while self.waiting[0].first().is_some_and(|waiting| waiting.len() >= frames) {
            self.take_window(frames);
            for waiting in self.waiting.iter_mut().flatten() {
                waiting.drain(..(frames / 2).min(waiting.len()));
            }
        }
    }

    /// Forgets what waits; a segment too short for a window is taken as it is if there was none.
    pub fn end_segment(&mut self) {
        let waiting = self.waiting[0].first().map_or(0, Vec::len);
        if self.sums.windows == 0 && waiting > 0 {
            self.take_window(waiting);
        }
        self.waiting.iter_mut().flatten().for_each(Vec::clear);
        self.lingering.forget();
    }

    fn take_window(&mut self, frames: usize) {
        let window = &mut self.window;
        window.zz.fill(0.0);
        window.yy.fill(0.0);
        window.ee.fill(0.0);
        window.rr.fill(0.0);
        window.zy.fill(Complex64::default());
        let [heard_bins, predicted_bins, filtered_bins] = &mut self.bins;
        let [heard, predicted, filtered] = &self.waiting;
        for (channel, (heard, predicted)) in heard.iter().zip(predicted).enumerate() {
            self.transform.take(&heard[..frames], heard_bins);
            self.transform.take(&predicted[..frames], predicted_bins);
            for (n, (y, z)) in heard_bins.iter().zip(predicted_bins.iter()).enumerate() {
                window.yy[n] += y.norm_sqr();
                window.zz[n] += z.norm_sqr();
                window.zy[n] += z.conj() * y;
                window.ee[n] += (y - z).norm_sqr();
            }
            if self.filtering {
                self.transform.take(&filtered[channel][..frames], filtered_bins);
                for (rr, (y, f)) in
                    window.rr.iter_mut().zip(heard_bins.iter().zip(filtered_bins.iter()))
                {
                    *rr += (y - f).norm_sqr();
                }
                self.lingering.take(channel, heard_bins, filtered_bins);
            } else {
                self.lingering.take(channel, heard_bins, predicted_bins);
            }
        }
        self.lingering.next();
        let sum = |powers: &[f64]| powers.iter().sum::<f64>();
        let cross: Complex64 = window.zy.iter().sum();
        let coherence = cross.norm_sqr() / (sum(&window.zz) * sum(&window.yy));
        if self.steady && coherence < FOREIGN_COHERENCE {
            return;
        }
        let add = |sums: &mut [f64], parts: &[f64]| {
            sums.iter_mut().zip(parts).for_each(|(sum, part)| *sum += part);
        };
        add(&mut self.sums.zz, &window.zz);
        add(&mut self.sums.yy, &window.yy);
        add(&mut self.sums.ee, &window.ee);
        add(&mut self.sums.rr, &window.rr);
        self.sums.zy.iter_mut().zip(&window.zy).for_each(|(sum, part)| *sum += part);
        self.sums.windows += 1;
    }

    pub fn finish(mut self) -> CrossSpectra {
        let scale = 1.0 / (self.sums.windows.max(1) * self.channels.max(1) as u64) as f64;
        let sums = &mut self.sums;
        let powers = [&mut sums.zz, &mut sums.yy, &mut sums.ee, &mut sums.rr];
        powers.into_iter().flatten().for_each(|power| *power *= scale);
        sums.lingering = self.lingering.share(sums.bin_hz);
        sums.zy.iter_mut().for_each(|cross| *cross *= scale);
        self.sums
    }
}
