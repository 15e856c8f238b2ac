//! The last delay at which the autocorrelation reaches the threshold.
//!
//! The transform of a spectrum whose upper half is left empty is the analytic signal of the
//! autocorrelation. Turned down by half its bandwidth, that is sampled at twice the rate that it needs,
//! and a short filter finds it between the samples.

use std::f64::consts::{FRAC_PI_2, PI};
use std::ops::Range;

use rustfft::Fft;
use rustfft::num_complex::Complex32;

use super::{BEYOND_MS, LONGEST_MS, MOST_CORRELATION};
use crate::hann;

/// Places looked at between two samples: sixteen in a period of the highest frequency, whose extreme
/// lies at most 2 % above one of them.
const PLACES: usize = 8;
/// Samples on either side that the filter takes in.
const REACH: usize = 6;
/// How far the magnitude between two samples, at twice the rate that it needs, can rise above both: √2.
const RISE: f32 = 1.42;

/// What was found.
pub(super) struct Found {
    /// The last delay at which |ρ| reaches the threshold; beyond the longest delay where it does so
    /// there.
    pub(super) ms: f64,
    /// The highest |ρ| beyond the longest delay.
    pub(super) far: f64,
}

/// Looks along the autocorrelation of a spectrum whose powers add up to 1. `fft` has as many points as
/// the window had frames: one over `bin_hz` in seconds.
pub(super) fn last_above(
    bins: Range<usize>,
    bin_hz: f64,
    fft: &dyn Fft<f32>,
    level: impl Fn(usize) -> f64,
) -> Found {
    let rho = Autocorrelation::new(bins, bin_hz, fft, level);
    let index = |ms: f64| ((ms / 1e3 / rho.step_s) as usize).min(rho.turned.len() / 2);
    let (longest, end) = (index(LONGEST_MS), index(LONGEST_MS + BEYOND_MS));
    let last = (0..end).rev().find_map(|at| rho.last_crossing(at)).unwrap_or(0.0);
    let far = (longest..end).map(|at| rho.at(at, 0).abs()).fold(0.0, f64::max);
    Found { ms: last * rho.step_s * 1e3, far }
}

struct Autocorrelation {
    /// The analytic signal by delay, as the window leaves it, turned down by half its bandwidth.
    turned: Vec<Complex32>,
    step_s: f64,
    /// The window's length is one over this.
    bin_hz: f64,
    /// Where the squares of both samples' magnitudes are below this, nothing between them matters.
    least_square: f32,
    /// `[place][sample]`
    weights: [[f32; 2 * REACH]; PLACES],
}

impl Autocorrelation {
    fn new(
        bins: Range<usize>,
        bin_hz: f64,
        fft: &dyn Fft<f32>,
        level: impl Fn(usize) -> f64,
    ) -> Self {
        let mut turned = vec![Complex32::default(); fft.len()];
        // From a quarter of the transform's bins down to less than none.
        let quarter = fft.len() / 4;
        for bin in bins {
            let place = (bin + fft.len() - quarter) % fft.len();
            turned[place].re = level(bin) as f32;
        }
        fft.process(&mut turned);
        let least_left = hann::overlap((LONGEST_MS + BEYOND_MS) / 1e3 * bin_hz);
        Self {
            turned,
            step_s: 1.0 / (fft.len() as f64 * bin_hz),
            bin_hz,
            least_square: ((MOST_CORRELATION * least_left) as f32 / RISE).powi(2),
            weights: weights(),
        }
    }

    /// What the window leaves of ρ at a delay, in steps.
    fn left(&self, at: f64) -> f64 {
        hann::overlap(at * self.step_s * self.bin_hz)
    }

    /// ρ so many places behind a sample.
    fn at(&self, sample: usize, place: usize) -> f64 {
        let length = self.turned.len();
        let first = sample + length + 1 - REACH;
        let samples = (first..).map(|sample| self.turned[sample % length]);
        let value: Complex32 =
            samples.zip(&self.weights[place]).map(|(value, weight)| value * weight).sum();
        let at = sample as f64 + place as f64 / PLACES as f64;
        // Turned up again: a quarter of a turn each sample.
        let (sine, cosine) = (FRAC_PI_2 * (at % 4.0)).sin_cos();
        (f64::from(value.re) * cosine + f64::from(value.im) * sine) / self.left(at)
    }

    /// Where |ρ| last reaches the threshold between a sample and the next, in steps.
    fn last_crossing(&self, sample: usize) -> Option<f64> {
        let next = (sample + 1) % self.turned.len();
        let square = self.turned[sample].norm_sqr().max(self.turned[next].norm_sqr());
        if square < self.least_square {
            return None;
        }
        let mut behind = self.at(next, 0);
        (0..PLACES).rev().find_map(|place| {
            let here = self.at(sample, place);
            let last = behind * here.signum();
            behind = here;
            let over = here.abs() - MOST_CORRELATION;
            // What is above there as well was found from there.
            let share = (over / (here.abs() - last)).clamp(0.0, 1.0);
            (over >= 0.0).then(|| sample as f64 + (place as f64 + share) / PLACES as f64)
        })
    }
}

/// A sinc under a Hann window for each place.
fn weights() -> [[f32; 2 * REACH]; PLACES] {
    std::array::from_fn(|place| {
        std::array::from_fn(|sample| {
            let from = sample as f64 - (REACH as f64 - 1.0) - place as f64 / PLACES as f64;
            let sinc = if from == 0.0 { 1.0 } else { (PI * from).sin() / (PI * from) };
            let window = 0.5 + 0.5 * (PI * from / REACH as f64).cos();
            (sinc * window) as f32
        })
    })
}

#[cfg(test)]
mod tests {
    use realfft::RealFftPlanner;
    use rustfft::FftPlanner;

    use super::*;

    /// Of a band of even power between two frequencies: ρ(τ) is sin(πWτ)/(πWτ)·cos(2πfτ), W being its
    /// width and f its middle. A window of 1.28 s leaves a part of it, and a transform of as many points
    /// adds what lies the rest of its length away.
    fn of_band(from_hz: f64, to_hz: f64, rate_hz: f64) -> f64 {
        let length = (1.28 * rate_hz) as usize;
        let rho = |s: f64| {
            let half = PI * (to_hz - from_hz) * s;
            let sinc = if half == 0.0 { 1.0 } else { half.sin() / half };
            sinc * (PI * (to_hz + from_hz) * s).cos()
        };
        let left = |n: usize| hann::overlap(n as f64 / length as f64) * rho(n as f64 / rate_hz);
        let mut lags: Vec<f64> = (0..length).map(|n| left(n) + left(length - n)).collect();
        let fft = RealFftPlanner::<f64>::new().plan_fft_forward(length);
        let mut powers = fft.make_output_vec();
        fft.process(&mut lags, &mut powers).expect("lengths are the plan's own");
        let bins = length / 2;
        let level = |bin: usize| {
            let both = if bin == 0 { 1.0 } else { 2.0 };
            both * powers[bin].re / length as f64
        };
        let fft = FftPlanner::new().plan_fft_forward(length);
        last_above(0..bins, rate_hz / length as f64, &*fft, level).ms
    }

    /// sin(πx)/(πx) reaches 0.1 for the last time at x = 2.679.
    #[test]
    fn a_band_of_even_power_is_decorrelated_where_its_sinc_is() {
        for rate_hz in [8_000.0, 48_000.0, 96_000.0] {
            let found = of_band(995.0, 1005.0, rate_hz);
            // To a half period of 1 kHz.
            assert!((found - 267.9).abs() < 0.5, "{rate_hz}: {found}");
        }
        // Up to half the rate: ρ passes through zero at every sample, and between them its lobes.
        let found = of_band(0.0, 24_000.0, 48_000.0);
        assert!((found - 2.679 / 48.0).abs() < 5e-4, "{found}");
    }
}
