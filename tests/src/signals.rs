//! Every signal that the checks and the demo play, made by code from an index: the same samples on
//! every run, at any sample rate.
//!
//! Amplitudes are linear with 1.0 as full scale; levels are dBFS of the *peak*, unless a name says
//! otherwise.

pub mod bench_mix;
pub mod ebu;
pub mod ferry;
pub mod filter;
pub mod finding;
pub mod noise;
pub mod session;
pub mod stereo;
pub mod switching;
pub mod tone;
pub mod true_peak;

pub use stereo::Stereo;

/// The linear amplitude of a level in decibels.
#[must_use]
pub fn amplitude(level_db: f64) -> f64 {
    10f64.powf(level_db / 20.0)
}

/// How many frames a length in seconds has, to the nearest.
#[must_use]
pub fn frames(rate_hz: f64, length_s: f64) -> usize {
    (rate_hz * length_s).round() as usize
}
