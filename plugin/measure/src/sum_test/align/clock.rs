//! From the test's time to the recording's, and the recording between its samples.

use std::sync::LazyLock;

use pulp::{Arch, NullaryFnOnce};

use crate::fir;

/// Samples on either side that an interpolated one leans on.
const REACH: usize = 32;
const TAPS: usize = 2 * REACH;
/// Places between two samples for which weights are kept; between those they are interpolated.
const PHASES: usize = 512;
const ATTENUATION_DB: f64 = 80.0;

/// Where each frame of the test lies in a recording.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::sum_test) struct Clock {
    /// The recording's frame at which the test begins.
    pub start: f64,
    /// Recorded frames for each of the test's.
    pub stretch: f64,
}

impl Clock {
    /// The place in the recording of a frame of the test.
    pub fn place(&self, frames: f64) -> f64 {
        self.start + self.stretch * frames
    }

    /// The recording, from a place in it on, at the test's frames.
    pub fn resample_from(&self, signal: &[f32], start: f64, frames: usize) -> Vec<f32> {
        Arch::new().dispatch(Resample { signal, start, step: self.stretch, frames })
    }

    /// The recording at the test's frames from `first` on. Where both run on one clock, these are the
    /// samples next to them as they are, so that a part of a frame counts as the path's and nothing
    /// is interpolated.
    pub fn resample(&self, signal: &[f32], first: f64, frames: usize) -> Vec<f32> {
        let start = self.place(first);
        if self.stretch != 1.0 {
            return self.resample_from(signal, start, frames);
        }
        let start = (self.start.round() + first) as isize;
        let at = |index: isize| usize::try_from(index).ok().and_then(|index| signal.get(index));
        (start..).take(frames).map(|index| at(index).copied().unwrap_or(0.0)).collect()
    }
}

/// The weights of every phase, one after the other. Slices of a length that the compiler does not
/// know keep their loop, and with it whole vectors.
static WEIGHTS: LazyLock<Vec<f32>> = LazyLock::new(|| {
    let beta = fir::kaiser_beta(ATTENUATION_DB);
    let weight = |phase: usize, k: usize| {
        let t = k as f64 - (REACH as f64 - 1.0) - phase as f64 / PHASES as f64;
        (fir::sinc(t) * fir::kaiser(t / REACH as f64, beta)) as f32
    };
    (0..=PHASES).flat_map(|phase| (0..TAPS).map(move |k| weight(phase, k))).collect()
});

/// Values of a signal `step` apart, as a type: what a closure holds would not be inlined where the
/// wider vectors are switched on.
struct Resample<'a> {
    signal: &'a [f32],
    start: f64,
    step: f64,
    frames: usize,
}

impl NullaryFnOnce for Resample<'_> {
    type Output = Vec<f32>;

    #[inline(always)]
    fn call(self) -> Vec<f32> {
        let Self { signal, start, step, frames } = self;
        let weights = &*WEIGHTS;
        let mut values = vec![0.0; frames];
        for (n, value) in values.iter_mut().enumerate() {
            *value = between(weights, signal, start + step * n as f64);
        }
        values
    }
}

/// The signal at a place between its samples; silence beyond its ends.
#[inline(always)]
fn between(weights: &[f32], signal: &[f32], place: f64) -> f32 {
    let taps = weights.len() / (PHASES + 1);
    let whole = place.floor();
    let phase = (place - whole) * PHASES as f64;
    let near = phase as usize;
    let weights = [near, (near + 1).min(PHASES)].map(|phase| &weights[phase * taps..][..taps]);
    let share = (phase - near as f64) as f32;
    let first = whole as isize - (REACH as isize - 1);
    match usize::try_from(first).ok().and_then(|first| signal.get(first..first + taps)) {
        Some(samples) => weighted(samples, weights, share),
        None => weighted(&beyond_the_end(signal, first), weights, share),
    }
}

/// Samples from `first` on, with silence where there are none.
#[cold]
fn beyond_the_end(signal: &[f32], first: isize) -> [f32; TAPS] {
    std::array::from_fn(|k| {
        let index = usize::try_from(first + k as isize).ok();
        index.and_then(|index| signal.get(index)).copied().unwrap_or(0.0)
    })
}

/// Sum of samples by weights that lie a share of the way from one set to the other.
#[inline(always)]
fn weighted(samples: &[f32], [low, high]: [&[f32]; 2], share: f32) -> f32 {
    const LANES: usize = 8;
    let mut lanes = [0f32; LANES];
    let chunks = samples.as_chunks::<LANES>().0.iter();
    let weights = low.as_chunks::<LANES>().0.iter().zip(high.as_chunks::<LANES>().0);
    for (x, (low, high)) in chunks.zip(weights) {
        for i in 0..LANES {
            lanes[i] += x[i] * (low[i] + share * (high[i] - low[i]));
        }
    }
    // One after the other: for a sum in pairs the compiler would give up whole vectors.
    lanes.iter().sum()
}

/// Where the band-limited curve through `values` has its extreme near `index`, relative to it.
pub(in crate::sum_test) fn maximum_near(values: &[f64], index: usize) -> f64 {
    const SIDE: isize = 8;
    let sign = values[index].signum();
    let at = |offset: f64| -> f64 {
        (-SIDE..=SIDE)
            .filter_map(|k| {
                let value = values.get(usize::try_from(index as isize + k).ok()?)?;
                let t = offset - k as f64;
                let window = (std::f64::consts::FRAC_PI_2 * t / (SIDE as f64 + 1.0)).cos().powi(2);
                Some(sign * value * fir::sinc(t) * window)
            })
            .sum()
    };
    let (mut low, mut high) = (-1.0, 1.0);
    // Thirds: the curve has one maximum between its neighbours.
    for _ in 0..40 {
        let (left, right) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
        if at(left) < at(right) { low = left } else { high = right }
    }
    (low + high) / 2.0
}

#[cfg(test)]
mod tests;
