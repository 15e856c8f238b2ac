//! Counter-based noise: seed and sample index give the value, so that any stretch of it can be made
//! anywhere, again, without shared state.
//!
//! The hash is the finaliser of `SplitMix64` (Steele, Lea, Flood: "Fast splittable pseudorandom
//! number generators", 2014), applied twice so that neighbouring seeds share nothing.

use std::f64::consts::TAU;

/// Rows that make up pink noise: from half the rate down to about 20 Hz at 48 kHz.
const PINK_ROWS: u32 = 11;

fn hash(seed: u64, index: u64) -> u64 {
    const GOLDEN: u64 = 0x9E37_79B9_7F4A_7C15;
    mix(index.wrapping_mul(GOLDEN) ^ mix(seed.wrapping_add(GOLDEN)))
}

fn mix(mut z: u64) -> u64 {
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

/// White noise, uniform in [−1, 1): peak 1, RMS −4.77 dB.
#[must_use]
pub fn uniform(seed: u64, index: u64) -> f64 {
    const HALF_RANGE: f64 = (1u64 << 52) as f64;
    (hash(seed, index) >> 11) as f64 / HALF_RANGE - 1.0
}

/// White Gaussian noise of RMS 1 (Box and Muller's transform).
#[must_use]
pub fn gaussian(seed: u64, index: u64) -> f64 {
    let radius = 0.5 - 0.5 * uniform(seed, index.wrapping_mul(2));
    let turn = 0.5 * uniform(seed, index.wrapping_mul(2).wrapping_add(1));
    (-2.0 * radius.ln()).sqrt() * (TAU * turn).cos()
}

/// Pink noise, 3 dB down an octave, within ±1: the mean of uniform noises that are held for one,
/// two, four … samples (R. F. Voss's algorithm), each at an offset of its own.
#[must_use]
pub fn pink(seed: u64, index: u64) -> f64 {
    let sum: f64 = (0..PINK_ROWS)
        .map(|row| {
            let offset = hash(seed, u64::from(row)) & 0xFFFF;
            uniform(seed.wrapping_add(1 + u64::from(row)), index.wrapping_add(offset) >> row)
        })
        .sum();
    sum / f64::from(PINK_ROWS)
}
