//! The benchmark's track: the [ferry's](super::ferry) stems, mixed so that every measure has much to
//! do. Rumble lies under it from the beginning, and a hiss between 25 and 46 kHz builds up until it
//! holds 71 % of the energy and takes the sample peak to the ceiling, 8 dB above what is audible.
//! No mix is like that; its samples stay as they are, so that the benchmark's figures can be compared
//! from version to version.

use super::Stereo;
use super::ferry::{LENGTH_S, Piece};

pub use super::ferry::{ENGINE_HZ, IDLE_TONE_HZ, RATE_HZ, Stems};

/// The whole track.
#[must_use]
pub fn play() -> Stereo {
    play_for(LENGTH_S)
}

/// The first `length_s` seconds of the track.
#[must_use]
pub fn play_for(length_s: f64) -> Stereo {
    Piece::Benchmark.play_for(length_s)
}

/// The stems, each as long as the track.
#[must_use]
pub fn stems() -> Stems {
    Piece::Benchmark.stems()
}
