//! A signal between its samples, by a sinc under a raised cosine: what delays and clocks do to it.
//! Longer than the audit's own, and of another shape.

use std::f64::consts::PI;

use pulp::{Arch, NullaryFnOnce};

/// Samples on either side of an interpolated one.
const REACH: usize = 48;
const TAPS: usize = 2 * REACH;
/// Places between two samples for which weights are kept.
const PHASES: usize = 1024;

/// `frames` values of the signal, from the place `start` on and `step` apart; silence beyond its
/// ends.
pub(super) fn resampled(signal: &[f32], start: f64, step: f64, frames: usize) -> Vec<f64> {
    Arch::new().dispatch(Resample { signal, start, step, frames })
}

pub(super) fn sinc(x: f64) -> f64 {
    if x == 0.0 { 1.0 } else { (PI * x).sin() / (PI * x) }
}

/// The weights of every phase, one after the other. Slices of a length that the compiler does not
/// know keep their loop, and with it whole vectors.
fn weights() -> &'static [f32] {
    static WEIGHTS: std::sync::OnceLock<Vec<f32>> = std::sync::OnceLock::new();
    WEIGHTS.get_or_init(|| {
        let weight = |phase: usize, k: usize| {
            let t = k as f64 - (REACH as f64 - 1.0) - phase as f64 / PHASES as f64;
            let window = 0.5 + 0.5 * (PI * t / REACH as f64).cos();
            (window * sinc(t)) as f32
        };
        (0..=PHASES).flat_map(|phase| (0..TAPS).map(move |k| weight(phase, k))).collect()
    })
}

/// The loop over the values, as a type: what a closure holds is not inlined where the wider vectors
/// are switched on.
struct Resample<'a> {
    signal: &'a [f32],
    start: f64,
    step: f64,
    frames: usize,
}

impl NullaryFnOnce for Resample<'_> {
    type Output = Vec<f64>;

    #[inline(always)]
    fn call(self) -> Vec<f64> {
        let Self { signal, start, step, frames } = self;
        let weights = weights();
        let mut values = vec![0.0; frames];
        for (n, value) in values.iter_mut().enumerate() {
            *value = between(weights, signal, start + step * n as f64);
        }
        values
    }
}

/// The signal at a place between its samples.
#[inline(always)]
fn between(weights: &[f32], signal: &[f32], place: f64) -> f64 {
    let taps = weights.len() / (PHASES + 1);
    let whole = place.floor();
    let phase = (place - whole) * PHASES as f64;
    let near = phase as usize;
    let (low, high) = (&weights[near * taps..], &weights[(near + 1).min(PHASES) * taps..]);
    let share = (phase - near as f64) as f32;
    let first = whole as i64 - (REACH as i64 - 1);
    let inside = usize::try_from(first).ok().and_then(|first| signal.get(first..first + taps));
    // The feeds begin and end in silence, so nothing is lost at the ends.
    let Some(samples) = inside else { return 0.0 };
    // Two vectors of eight, so that additions need not wait for each other.
    const LANES: usize = 16;
    let mut lanes = [0f32; LANES];
    let chunks = samples.as_chunks::<LANES>().0.iter();
    for ((x, low), high) in chunks.zip(low.as_chunks::<LANES>().0).zip(high.as_chunks::<LANES>().0)
    {
        for i in 0..LANES {
            lanes[i] += x[i] * (low[i] + share * (high[i] - low[i]));
        }
    }
    let (one, other) = lanes.split_at(LANES / 2);
    // One after the other: for a sum in pairs the compiler would give up whole vectors.
    f64::from(one.iter().zip(other).map(|(one, other)| one + other).sum::<f32>())
}
