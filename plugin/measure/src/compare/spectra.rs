//! Mean spectra of long signals (Welch's method): power by bin, all channels together.

use std::sync::Arc;

use realfft::num_complex::Complex64;
use realfft::{RealFftPlanner, RealToComplex};

/// Length of the transform at rates up to 64 kHz; twice as long for every doubling above.
const TRANSFORM_FRAMES: usize = 8192;
const SHORT_UP_TO_HZ: f64 = 64_000.0;

/// Length of the transform at a rate: bins some 6 Hz wide.
pub(super) fn transform_frames(rate_hz: f64) -> usize {
    let doublings = (rate_hz / SHORT_UP_TO_HZ).log2().ceil().max(0.0);
    TRANSFORM_FRAMES << (doublings as usize).min(4)
}

/// A real transform under a Hann window; bins are scaled so that the sum of their squares over the
/// positive frequencies is the signal's mean square.
pub(super) struct WindowedTransform {
    plan: Arc<dyn RealToComplex<f64>>,
    window: Vec<f64>,
    time: Vec<f64>,
    scratch: Vec<Complex64>,
}

impl WindowedTransform {
    pub fn new(frames: usize) -> Self {
        let plan = RealFftPlanner::<f64>::new().plan_fft_forward(frames);
        let turn = std::f64::consts::TAU / frames as f64;
        let hann: Vec<f64> = (0..frames).map(|n| 0.5 - 0.5 * (turn * n as f64).cos()).collect();
        let power: f64 = hann.iter().map(|w| w * w).sum();
        // Bins come twice, at positive and negative frequencies; only one is kept.
        let scale = (2.0 / (power * frames as f64)).sqrt();
        Self {
            window: hann.into_iter().map(|w| w * scale).collect(),
            time: plan.make_input_vec(),
            scratch: plan.make_scratch_vec(),
            plan,
        }
    }

    pub fn frames(&self) -> usize {
        self.window.len()
    }

    pub fn make_bins(&self) -> Vec<Complex64> {
        self.plan.make_output_vec()
    }

    /// The spectrum of a stretch; what it lacks in length is silence.
    pub fn take(&mut self, signal: &[f64], bins: &mut [Complex64]) {
        self.time.fill(0.0);
        for ((time, window), sample) in self.time.iter_mut().zip(&self.window).zip(signal) {
            *time = window * sample;
        }
        // Lengths come from the plan, so the transform cannot refuse them.
        let _ = self.plan.process_with_scratch(&mut self.time, bins, &mut self.scratch);
    }
}

/// A mean spectrum: power a bin.
#[derive(Debug, Clone, Default)]
pub(super) struct MeanSpectrum {
    /// Distance of two bins, in Hz.
    pub bin_hz: f64,
    /// Mean square by bin, the mean over all channels.
    pub powers: Vec<f64>,
}

impl MeanSpectrum {
    /// Power between two frequencies, in Hz; bins at the edges count in part.
    pub fn power(&self, low_hz: f64, high_hz: f64) -> f64 {
        band_power(&self.powers, self.bin_hz, low_hz, high_hz)
    }

    /// Half the sample rate.
    pub fn end_hz(&self) -> f64 {
        self.bin_hz * self.powers.len().saturating_sub(1) as f64
    }
}

/// Sum of `powers` between two frequencies; a bin reaches half a bin to either side, and counts by
/// the part of it that lies inside.
pub(super) fn band_power(powers: &[f64], bin_hz: f64, low_hz: f64, high_hz: f64) -> f64 {
    let (low, high) = (low_hz / bin_hz + 0.5, high_hz / bin_hz + 0.5);
    let first = low.max(0.0) as usize;
    let last = (high.max(0.0) as usize).min(powers.len().saturating_sub(1));
    (first..=last)
        .map(|bin| {
            let inside = (high.min(bin as f64 + 1.0) - low.max(bin as f64)).clamp(0.0, 1.0);
            inside * powers.get(bin).copied().unwrap_or(0.0)
        })
        .sum()
}

/// Takes a file's mean spectrum, without overlap: it is long.
pub(super) struct Welch {
    transform: WindowedTransform,
    rate_hz: f64,
    waiting: Vec<Vec<f64>>,
    bins: Vec<Complex64>,
    powers: Vec<f64>,
    count: u64,
}

impl Welch {
    pub fn new(rate_hz: f64, channels: usize) -> Self {
        let transform = WindowedTransform::new(transform_frames(rate_hz));
        let bins = transform.make_bins();
        Self {
            rate_hz,
            waiting: vec![Vec::new(); channels],
            powers: vec![0.0; bins.len()],
            bins,
            transform,
            count: 0,
        }
    }

    pub fn take(&mut self, chunk: &[Vec<f64>]) {
        for (waiting, chunk) in self.waiting.iter_mut().zip(chunk) {
            waiting.extend_from_slice(chunk);
        }
        let frames = self.transform.frames();
        while self.waiting.first().is_some_and(|waiting| waiting.len() >= frames) {
            for waiting in &mut self.waiting {
                self.transform.take(&waiting[..frames], &mut self.bins);
                for (power, bin) in self.powers.iter_mut().zip(&self.bins) {
                    *power += bin.norm_sqr();
                }
                waiting.drain(..frames);
            }
            self.count += self.waiting.len() as u64;
        }
    }

    pub fn finish(mut self) -> MeanSpectrum {
        // A file shorter than a transform is all there is.
        if self.count == 0 {
            for waiting in &self.waiting {
                self.transform.take(waiting, &mut self.bins);
                for (power, bin) in self.powers.iter_mut().zip(&self.bins) {
                    *power += bin.norm_sqr();
                }
            }
            self.count = self.waiting.len() as u64;
        }
        let scale = 1.0 / self.count.max(1) as f64;
        self.powers.iter_mut().for_each(|power| *power *= scale);
        let bin_hz = self.rate_hz / self.transform.frames() as f64;
        MeanSpectrum { bin_hz, powers: self.powers }
    }
}
