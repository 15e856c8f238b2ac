//! The film's music, of which only the drum is left under the narrator: a low skin, struck evenly.

use std::f64::consts::TAU;

use super::RATE_HZ;
use crate::signals::{amplitude, noise};

/// Peak level of a stroke, in dBFS, but for what the stroke's swing takes.
const STROKE_DBFS: f64 = -0.9;
/// By how much the levels of strokes differ, in dB either way.
const SWING_DB: f64 = 0.5;
/// Between two strokes, in seconds.
const EVERY_S: f64 = 2.0;
/// When the first comes, in seconds.
const FIRST_S: f64 = 1.5;
/// Over which time a stroke dies away by a factor of e, in seconds.
const DECAY_S: f64 = 0.045;
/// Over which time it comes in, in seconds.
const ATTACK_S: f64 = 0.002;
/// Pitch of the skin, and by how much a stroke begins higher, in Hz.
const PITCH_HZ: f64 = 64.0;
const RISE_HZ: f64 = 30.0;
/// Over which time the pitch falls by a factor of e, in seconds.
const FALL_S: f64 = 0.03;
const SEED: u64 = 0x4452;

/// The drum stands in the middle.
pub(super) fn next(index: u64) -> f64 {
    let every = (EVERY_S * RATE_HZ) as u64;
    // A stroke before the first would have died away.
    let index = index + every - (FIRST_S * RATE_HZ) as u64;
    let (stroke, since) = (index / every, (index % every) as f64 / RATE_HZ);
    let level = amplitude(STROKE_DBFS + SWING_DB * noise::uniform(SEED, stroke));
    let skin = (1.0 - (-since / ATTACK_S).exp()) * (-since / DECAY_S).exp();
    // Pitch, integrated over time.
    let cycles = PITCH_HZ * since + RISE_HZ * FALL_S * (1.0 - (-since / FALL_S).exp());
    level * skin * (TAU * cycles).sin()
}
