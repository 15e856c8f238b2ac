//! Correlation of all channels of one window with all channels of another, over a range of lags.

use std::sync::Arc;

use realfft::num_complex::Complex64;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};

use crate::compare::align::mapping::Covariance;
use crate::fir::sinc;

/// Another maximum this near to the highest makes the place ambiguous.
const AMBIGUOUS: f64 = 0.985;
/// Lags on either side from which the curve between lags is made.
const SIDE: isize = 12;

/// The best lag of an export channel in a window.
#[derive(Debug, Clone, Copy)]
pub(super) struct Best {
    /// Whole frames from the first lag.
    pub lag: usize,
    /// The rest, −1 to 1.
    pub fraction: f64,
    /// Correlation with the likest channel of the mix.
    pub likeness: f64,
    /// Whether another lag fits as well; then this one is the nearest to the middle.
    pub ambiguous: bool,
}

/// Correlates windows of a mix with shorter ones of an export.
pub(super) struct Correlator {
    frames: usize,
    lags: usize,
    forward: Arc<dyn RealToComplex<f64>>,
    inverse: Arc<dyn ComplexToReal<f64>>,
    weights: Vec<f64>,
    spectra: [Vec<Vec<Complex64>>; 2],
    time: Vec<f64>,
    product: Vec<Complex64>,
    scratch: Vec<Complex64>,
    /// By export channel, then mix channel: correlation by lag.
    curves: Vec<Vec<Vec<f64>>>,
}

impl Correlator {
    /// `weight` gives what an amplitude counts at a frequency, in Hz: nothing outside the band that is
    /// compared.
    pub fn new(
        frames: usize,
        search: usize,
        channels: [usize; 2],
        weight: impl Fn(f64) -> f64,
        rate_hz: f64,
    ) -> Self {
        let size = (frames + 2 * search).next_power_of_two();
        let mut planner = RealFftPlanner::<f64>::new();
        let (forward, inverse) = (planner.plan_fft_forward(size), planner.plan_fft_inverse(size));
        let bin_hz = rate_hz / size as f64;
        let inside = 1..size / 2;
        let weights = (0..size / 2 + 1)
            .map(|bin| if inside.contains(&bin) { weight(bin as f64 * bin_hz) } else { 0.0 })
            .collect();
        let lags = 2 * search + 1;
        Self {
            frames,
            lags,
            weights,
            spectra: channels.map(|count| vec![forward.make_output_vec(); count]),
            time: forward.make_input_vec(),
            product: inverse.make_input_vec(),
            scratch: vec![
                Complex64::default();
                forward.get_scratch_len().max(inverse.get_scratch_len())
            ],
            curves: vec![vec![vec![0.0; lags]; channels[0]]; channels[1]],
            forward,
            inverse,
        }
    }

    /// Covariance of the latest windows, each export channel at its own lag.
    pub fn covariance(&self, lags: &[usize]) -> Covariance {
        let share = self.frames as f64 / (self.frames + self.lags - 1) as f64;
        let dot = |x: &[Complex64], y: &[Complex64]| -> f64 {
            let weighted = x.iter().zip(y).zip(&self.weights);
            2.0 * weighted.map(|((x, y), w)| w * w * (x.conj() * y).re).sum::<f64>()
        };
        let [mix, export] = &self.spectra;
        let xx = mix.iter().map(|x| mix.iter().map(|y| share * dot(x, y)).collect()).collect();
        let at = |(row, &lag): (&Vec<Vec<f64>>, &usize)| row.iter().map(|c| c[lag]).collect();
        let xy = self.curves.iter().zip(lags).map(at).collect();
        Covariance::of(xx, xy, export.iter().map(|y| dot(y, y)).collect())
    }

    /// The lag at which each channel of the export's window lies best in the mix's; `None` for one in
    /// which there is nothing to compare.
    pub fn best(&mut self, mix: &[Vec<f64>], export: &[Vec<f64>]) -> Vec<Option<Best>> {
        self.transform(0, mix);
        self.transform(1, export);
        for (out, curves) in self.curves.iter_mut().enumerate() {
            for (into, curve) in curves.iter_mut().enumerate() {
                for (bin, product) in self.product.iter_mut().enumerate() {
                    let (x, y) = (self.spectra[0][into][bin], self.spectra[1][out][bin]);
                    *product = x * y.conj() * self.weights[bin].powi(2);
                }
                // The weights end both ends of the band in nothing.
                let scratch = &mut self.scratch;
                let _ =
                    self.inverse.process_with_scratch(&mut self.product, &mut self.time, scratch);
                curve.copy_from_slice(&self.time[..self.lags]);
            }
        }
        (0..self.curves.len()).map(|out| self.best_of(out)).collect()
    }

    fn best_of(&self, out: usize) -> Option<Best> {
        let curves = &self.curves[out];
        let score: Vec<f64> =
            (0..self.lags).map(|lag| curves.iter().map(|curve| curve[lag].powi(2)).sum()).collect();
        let highest = score.iter().copied().fold(0.0, f64::max);
        if highest <= 0.0 {
            return None;
        }
        let (lag, ambiguous) = nearest_maximum(&score, highest);
        // The mix's window is longer by the lags, and holds more energy by as much.
        let share = self.frames as f64 / (self.frames + self.lags - 1) as f64;
        let heard = self.energy(&self.spectra[1][out]);
        let mut likeness = 0.0;
        for (curve, bins) in curves.iter().zip(&self.spectra[0]) {
            let norm = (share * self.energy(bins) * heard).sqrt();
            if norm > 0.0 {
                likeness = f64::max(likeness, curve[lag].abs() / norm);
            }
        }
        let fraction = fraction(curves, lag);
        Some(Best { lag, fraction, likeness: likeness.min(1.0), ambiguous })
    }

    fn transform(&mut self, file: usize, windows: &[Vec<f64>]) {
        for (window, bins) in windows.iter().zip(&mut self.spectra[file]) {
            self.time.fill(0.0);
            self.time[..window.len()].copy_from_slice(window);
            // Lengths come from the plan, so the transform cannot refuse them.
            let scratch = &mut self.scratch;
            let _ = self.forward.process_with_scratch(&mut self.time, bins, scratch);
        }
    }

    fn energy(&self, bins: &[Complex64]) -> f64 {
        let weighted = |(bin, weight): (&Complex64, &f64)| weight * weight * bin.norm_sqr();
        2.0 * bins.iter().zip(&self.weights).map(weighted).sum::<f64>()
    }
}

/// Where the score of some curves is highest between lags, against the whole lag.
fn fraction(curves: &[Vec<f64>], lag: usize) -> f64 {
    let at = |offset: f64| -> f64 {
        let curve = |curve: &Vec<f64>| -> f64 {
            (-SIDE..=SIDE)
                .filter_map(|k| {
                    let value = curve.get(usize::try_from(lag as isize + k).ok()?)?;
                    let t = offset - k as f64;
                    let turn = std::f64::consts::FRAC_PI_2 * t / (SIDE as f64 + 1.0);
                    Some(value * sinc(t) * turn.cos().powi(2))
                })
                .sum()
        };
        curves.iter().map(|c| curve(c).powi(2)).sum()
    };
    let (mut low, mut high) = (-1.0, 1.0);
    // Thirds: the curve has one maximum between its neighbours.
    for _ in 0..24 {
        let (left, right) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
        if at(left) < at(right) { low = left } else { high = right }
    }
    (low + high) / 2.0
}

/// Of the maxima that are as high as the highest, the nearest to the middle; and whether there are
/// several.
fn nearest_maximum(score: &[f64], highest: f64) -> (usize, bool) {
    let middle = score.len() / 2;
    let is_maximum = |lag: &usize| {
        let value = score[*lag];
        value >= AMBIGUOUS * highest
            && lag.checked_sub(1).is_none_or(|before| score[before] <= value)
            && score.get(lag + 1).is_none_or(|after| *after < value)
    };
    let maxima: Vec<usize> = (0..score.len()).filter(is_maximum).collect();
    let nearest = maxima.iter().copied().min_by_key(|lag| lag.abs_diff(middle)).unwrap_or(middle);
    (nearest, maxima.len() > 1)
}

#[cfg(test)]
mod tests;
