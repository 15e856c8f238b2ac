//! The marker: a sweep whose period grows linearly with time.
//!
//! A clock that is off, or a wrong sample rate, stretches a sound. Of all sweeps only this one looks
//! the same after stretching, apart from a shift (R. A. Altes, E. L. Titlebaum, "Bat signals as
//! optimally Doppler tolerant waveforms", JASA 48, 1970), so a matched filter finds it whatever the
//! clock does. Feed 1 opens with the sweep up and closes with its mirror image down, feed 2 the other
//! way round, so that order and distance tell which feed was heard.

use std::f64::consts::{PI, TAU};

use super::schedule::MARKER_S;

/// Where the sweep begins and ends, in Hz: above hum, below every converter's filter.
const SWEEP_HZ: (f64, f64) = (500.0, 12_000.0);
/// Fade at either end, in seconds.
const FADE_S: f64 = 0.01;

/// The sweep up `time_s` seconds in, amplitude 1.
#[must_use]
pub fn up(time_s: f64) -> f64 {
    if !(0.0..MARKER_S).contains(&time_s) {
        return 0.0;
    }
    let (low_hz, _) = SWEEP_HZ;
    let pole_s = pole_s();
    let turns = -low_hz * pole_s * (1.0 - time_s / pole_s).ln();
    let edge = (time_s.min(MARKER_S - time_s) / FADE_S).min(1.0);
    let fade = 0.5 - 0.5 * (PI * edge).cos();
    fade * (TAU * turns.fract()).sin()
}

/// Its mirror image `time_s` seconds in, amplitude 1.
#[must_use]
pub fn down(time_s: f64) -> f64 {
    up(MARKER_S - time_s)
}

/// Where the sweep's frequency would be infinite, in seconds from its beginning. Stretched by
/// 1 + ε, the sweep up looks like itself ε times this later.
#[must_use]
pub fn pole_s() -> f64 {
    MARKER_S / (1.0 - SWEEP_HZ.0 / SWEEP_HZ.1)
}
