//! The last delay at which the autocorrelation reaches the threshold.
//!
//! The transform of a spectrum whose upper half is left empty is the analytic signal of the
//! autocorrelation. Turned down by half its bandwidth, that is sampled at twice the rate that it needs,
//! and a short filter finds it between the samples.

use std::f64::consts::{FRAC_PI_2, PI};
use std::ops::Range;

use rustfft::Fft;
use rustfft::num_complex::Complex32;

use super::{BEYOND_MS, Buffers, LONGEST_MS, MOST_CORRELATION};
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
    buffers: &mut Buffers,
    level: impl Fn(usize) -> f64,
) -> Found {
    let step_s = 1.0 / (fft.len() as f64 * bin_hz);
    let steps = |ms: f64| ((ms / 1e3 / step_s) as usize).min(fft.len() / 2);
    let (longest, end) = (steps(LONGEST_MS), steps(LONGEST_MS + BEYOND_MS));
    let rho = Autocorrelation::new(bins, fft, buffers, end, level);
    let last = (0..end).rev().find_map(|step| rho.last_crossing(step)).unwrap_or(0.0);
    let far = (longest..end).map(|step| rho.at(step, 0).abs() / rho.left(step));
    Found { ms: last * step_s * 1e3, far: far.fold(0.0, f64::max) }
}

struct Autocorrelation {
    /// The analytic signal as the window leaves it, turned down by half its bandwidth: a sample a step of
    /// delay, from `REACH − 1` before the first to as many behind the last as the filter takes in.
    turned: Vec<Complex32>,
    /// Steps in the window's length.
    length: usize,
    places: [Place; PLACES],
    /// Where the squares of both samples' magnitudes are below this, nothing between them matters,
    /// whatever the delay.
    least_square: f32,
}

/// A place between two samples.
#[derive(Clone, Copy)]
struct Place {
    /// A sinc under a Hann window.
    weights: [f32; 2 * REACH],
    /// What turns the signal up again there, from a sample that is a multiple of four.
    turn: Complex32,
}

impl Autocorrelation {
    fn new(
        bins: Range<usize>,
        fft: &dyn Fft<f32>,
        buffers: &mut Buffers,
        end: usize,
        level: impl Fn(usize) -> f64,
    ) -> Self {
        let length = fft.len();
        // Not the remainder of a division, which would take longer than all else here.
        let wrapped = |index: usize| if index < length { index } else { index - length };
        let Buffers { from: signal, to: transform, scratch } = buffers;
        signal.fill(Complex32::default());
        for bin in bins {
            // From a quarter of the transform's bins down to less than none.
            signal[wrapped(bin + length - length / 4)].re = level(bin) as f32;
        }
        fft.process_outofplace_with_scratch(signal, transform, scratch);
        let before = length + 1 - REACH;
        let turned = (before..before + end + 2 * REACH).map(|index| transform[wrapped(index)]);
        let least = MOST_CORRELATION * hann::overlap(end as f64 / length as f64);
        Self {
            turned: turned.collect(),
            length,
            places: std::array::from_fn(Place::new),
            least_square: (least as f32 / RISE).powi(2),
        }
    }

    /// What the window leaves of ρ at a delay.
    fn left(&self, step: usize) -> f64 {
        hann::overlap(step as f64 / self.length as f64)
    }

    /// ρ so many places behind a step, as the window leaves it.
    fn at(&self, step: usize, place: usize) -> f64 {
        let Place { weights, turn } = &self.places[place];
        let samples = &self.turned[step..step + 2 * REACH];
        let value: Complex32 =
            samples.iter().zip(weights).map(|(value, weight)| value * weight).sum();
        // A quarter of a turn each step.
        let value = value * turn;
        f64::from(match step % 4 {
            0 => value.re,
            1 => value.im,
            2 => -value.re,
            _ => -value.im,
        })
    }

    /// Where |ρ| last reaches the threshold between a step and the next, in steps.
    fn last_crossing(&self, step: usize) -> Option<f64> {
        let [here, next] = [0, 1].map(|index| self.turned[step + REACH - 1 + index].norm_sqr());
        if here.max(next) < self.least_square {
            return None;
        }
        let threshold = MOST_CORRELATION * self.left(step);
        if f64::from(here.max(next)) < (threshold / f64::from(RISE)).powi(2) {
            return None;
        }
        let mut behind = self.at(step + 1, 0);
        (0..PLACES).rev().find_map(|place| {
            let here = self.at(step, place);
            let last = behind * here.signum();
            behind = here;
            let over = here.abs() - threshold;
            // What is above there as well was found from there.
            let share = (over / (here.abs() - last)).clamp(0.0, 1.0);
            (over >= 0.0).then(|| step as f64 + (place as f64 + share) / PLACES as f64)
        })
    }
}

impl Place {
    fn new(place: usize) -> Self {
        let at = place as f64 / PLACES as f64;
        let weights = std::array::from_fn(|sample| {
            let from = sample as f64 - (REACH as f64 - 1.0) - at;
            let sinc = if from == 0.0 { 1.0 } else { (PI * from).sin() / (PI * from) };
            (sinc * (0.5 + 0.5 * (PI * from / REACH as f64).cos())) as f32
        });
        Self { weights, turn: Complex32::from_polar(1.0, -(FRAC_PI_2 * at) as f32) }
    }
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
        let mut buffers = Buffers::of(&*fft);
        last_above(0..bins, rate_hz / length as f64, &*fft, &mut buffers, level).ms
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
