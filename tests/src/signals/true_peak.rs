//! The true-peak signals of EBU Tech 3341 (2023), Table 1, cases 15 to 23, and short runs of samples
//! whose band-limited interpolation has a maximum in closed form.

use std::f64::consts::{PI, TAU};

use super::tone::{Sine, fade};
use super::{Stereo, frames};

/// Tech 3341, cases 15 to 19: a sine at a fraction of the sample rate, at the phase that shows the
/// lowest sample peak, with 10 ms fades. Case 19 reads +3.0 dBTP, the others −6.0 dBTP.
///
/// # Panics
///
/// For any other case.
#[must_use]
pub fn sine_case(case: usize, rate_hz: f64) -> Stereo {
    let (divisor, amplitude, phase_deg) = match case {
        15 => (4.0, 0.50, 0.0),
        16 => (4.0, 0.50, 45.0),
        17 => (6.0, 0.50, 60.0),
        18 => (8.0, 0.50, 67.5),
        19 => (4.0, 1.41, 45.0),
        _ => panic!("case {case} is no steady sine"),
    };
    let sine = Sine::new(rate_hz / divisor, amplitude).at_phase(phase_deg);
    Stereo::both(rate_hz, sine.faded(rate_hz, 1.0, 0.01))
}

/// Tech 3341, cases 20 to 23: a sine of fs/6 at amplitude 0.50 that holds one period of fs/4 at
/// 1.00, phase continuous, made at four times the rate, low-passed, and taken down from the sample
/// `case − 20` on. All read 0.0 dBTP.
///
/// # Panics
///
/// For any other case.
#[must_use]
pub fn burst_case(case: usize, rate_hz: f64) -> Stereo {
    const OVERSAMPLING: usize = 4;
    const BASE_PERIOD: usize = 6 * OVERSAMPLING;
    const BURST_PERIOD: usize = 4 * OVERSAMPLING;
    let offset =
        case.checked_sub(20).filter(|o| *o < OVERSAMPLING).expect("a burst case, 20 to 23");
    let before = BASE_PERIOD * 500;
    let length = 2 * before + BURST_PERIOD;
    let fine: Vec<f64> = (0..length)
        .map(|index| {
            let gain = fade(index as f64, length as f64, before as f64 / 10.0);
            if (before..before + BURST_PERIOD).contains(&index) {
                (TAU * (index - before) as f64 / BURST_PERIOD as f64).sin()
            } else {
                let past_burst = if index < before { index } else { index - BURST_PERIOD };
                0.5 * gain * (TAU * past_burst as f64 / BASE_PERIOD as f64).sin()
            }
        })
        .collect();
    let filter = low_pass(0.5 / OVERSAMPLING as f64);
    let taken = (offset..length).step_by(OVERSAMPLING);
    Stereo::both(rate_hz, taken.map(|at| filtered(&fine, &filter, at) as f32).collect())
}

/// A windowed sinc, flat to 0.9 of the edge (in cycles a sample).
fn low_pass(edge: f64) -> Vec<f64> {
    const HALF: i32 = 256;
    (-HALF..=HALF)
        .map(|tap| {
            let x = f64::from(tap);
            let sinc = if tap == 0 { 1.0 } else { (TAU * edge * x).sin() / (TAU * edge * x) };
            let window = 0.5 + 0.5 * (PI * x / f64::from(HALF + 1)).cos();
            2.0 * edge * sinc * window
        })
        .collect()
}

/// One sample of a symmetric filter's output, without its delay.
fn filtered(signal: &[f64], filter: &[f64], at: usize) -> f64 {
    let half = filter.len() / 2;
    filter
        .iter()
        .enumerate()
        .filter_map(|(tap, gain)| {
            (at + tap).checked_sub(half).and_then(|i| signal.get(i)).map(|x| gain * x)
        })
        .sum()
}

/// `2·pairs` samples of magnitude 1 in silence, their signs chosen so that all of them add at the
/// midpoint: +, −, +, … outwards from the middle pair. The interpolated maximum is
/// (4/π)·Σ 1/(2k − 1) over k = 1 … `pairs`.
#[must_use]
pub fn adding_samples(rate_hz: f64, pairs: usize) -> Vec<f32> {
    let middle = frames(rate_hz, 0.05);
    let mut signal = vec![0.0; 2 * middle];
    for step in 0..pairs {
        let sign = if step % 2 == 0 { 1.0 } else { -1.0 };
        signal[middle + step] = sign;
        signal[middle - 1 - step] = sign;
    }
    signal
}
