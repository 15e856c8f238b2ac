//! Counter-based noise: sample index and seed give the value, so any stretch of it can be made
//! anywhere, again, without state.
//!
//! The hash is the finaliser of `SplitMix64` (Steele, Lea, Flood: "Fast splittable pseudorandom
//! number generators", 2014), applied twice so that neighbouring seeds share nothing.

/// Hash of an index under a seed: 64 bits that look random.
#[must_use]
pub fn hash(seed: u64, index: u64) -> u64 {
    const GOLDEN: u64 = 0x9E37_79B9_7F4A_7C15;
    mix(index.wrapping_mul(GOLDEN) ^ mix(seed.wrapping_add(GOLDEN)))
}

/// The finaliser of `SplitMix64`.
fn mix(mut z: u64) -> u64 {
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

/// Uniform noise in [−1, 1).
#[must_use]
pub fn uniform(seed: u64, index: u64) -> f64 {
    const HALF_RANGE: f64 = (1u64 << 52) as f64;
    (hash(seed, index) >> 11) as f64 / HALF_RANGE - 1.0
}

/// Gaussian noise of RMS 1 (Box and Muller's transform).
#[must_use]
pub fn gaussian(seed: u64, index: u64) -> f64 {
    let radius = 0.5 - 0.5 * uniform(seed, 2 * index);
    let angle = std::f64::consts::PI * uniform(seed, 2 * index + 1);
    (-2.0 * radius.ln()).sqrt() * angle.cos()
}

/// Noise of RMS 1, bell-shaped (the sum of the hash's four 16-bit quarters), bounded at 3.46 times
/// its RMS. Cheap: for textures of which millions of samples are made, never for a statistic.
#[must_use]
pub fn bell(seed: u64, index: u64) -> f64 {
    let bits = hash(seed, index);
    let sum = (0..4).map(|quarter| (bits >> (16 * quarter)) & 0xFFFF).sum::<u64>();
    // Each quarter is uniform over 0..65536, so the sum's standard deviation is 65536·√(4/12).
    (sum as f64 - 131_070.0) / (65_536.0 / 3f64.sqrt())
}

/// A stretch of white noise, uniform between −`amplitude` and `amplitude`.
#[must_use]
pub fn white(seed: u64, amplitude: f64, frames: usize) -> Vec<f32> {
    (0..frames as u64).map(|index| (amplitude * uniform(seed, index)) as f32).collect()
}

/// A stretch of white Gaussian noise with a linear RMS.
#[must_use]
pub fn white_gaussian(seed: u64, rms: f64, frames: usize) -> Vec<f32> {
    (0..frames as u64).map(|index| (rms * gaussian(seed, index)) as f32).collect()
}

/// A stretch of noise that falls by 3 dB an octave over the audible range, with a linear RMS near
/// `rms`: six independent white noises, each through a one-pole low-pass, two octaves apart and all
/// of one power.
#[must_use]
pub fn pink(seed: u64, rms: f64, rate_hz: f64, frames: usize) -> Vec<f32> {
    const LOWEST_HZ: f64 = 20.0;
    let mut poles: Vec<(f64, f64, f64)> = (0..6)
        .map(|step| {
            let hz = LOWEST_HZ * 4f64.powi(step);
            let pull = 1.0 - (-std::f64::consts::TAU * hz / rate_hz).exp();
            // A one-pole low-pass of white noise has the power of its noise bandwidth; the same
            // power from each octave pair makes the staircase pink.
            (pull, (2.0 / pull - 1.0).sqrt(), 0.0)
        })
        .collect();
    let gain = rms / (poles.len() as f64).sqrt();
    (0..frames as u64)
        .map(|index| {
            let sum: f64 = (0u64..)
                .zip(&mut poles)
                .map(|(pole, (pull, level, state))| {
                    *state += *pull * (gaussian(seed + (pole << 32), index) - *state);
                    *level * *state
                })
                .sum();
            (gain * sum) as f32
        })
        .collect()
}
