//! From the test's time to the recording's, and the recording between its samples.

use std::sync::LazyLock;

use crate::fir;

/// Samples on either side that an interpolated one leans on.
const REACH: usize = 32;
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
        (0..frames).map(|n| between(signal, start + self.stretch * n as f64)).collect()
    }

    /// The recording at the test's frames from `first` on.
    pub fn resample(&self, signal: &[f32], first: f64, frames: usize) -> Vec<f32> {
        self.resample_from(signal, self.place(first), frames)
    }
}

type Weights = [f32; 2 * REACH];

static WEIGHTS: LazyLock<Vec<Weights>> = LazyLock::new(|| {
    let beta = fir::kaiser_beta(ATTENUATION_DB);
    (0..=PHASES)
        .map(|phase| {
            std::array::from_fn(|k| {
                let t = k as f64 - (REACH as f64 - 1.0) - phase as f64 / PHASES as f64;
                (fir::sinc(t) * fir::kaiser(t / REACH as f64, beta)) as f32
            })
        })
        .collect()
});

/// The signal at a place between its samples; silence beyond its ends.
fn between(signal: &[f32], place: f64) -> f32 {
    let whole = place.floor();
    let phase = (place - whole) * PHASES as f64;
    let (near, share) = (phase as usize, phase.fract() as f32);
    let (low, high) = (&WEIGHTS[near], &WEIGHTS[(near + 1).min(PHASES)]);
    let first = whole as isize - (REACH as isize - 1);
    let inside = usize::try_from(first).ok().and_then(|first| signal.get(first..first + 2 * REACH));
    let sum = |samples: &[f32]| -> f32 {
        let mut lanes = [0f32; 8];
        for ((x, low), high) in samples
            .as_chunks::<8>()
            .0
            .iter()
            .zip(low.as_chunks::<8>().0)
            .zip(high.as_chunks::<8>().0)
        {
            for i in 0..8 {
                lanes[i] += x[i] * (low[i] + share * (high[i] - low[i]));
            }
        }
        lanes.iter().sum()
    };
    match inside {
        Some(samples) => sum(samples),
        None => {
            let at = |k: usize| {
                usize::try_from(first + k as isize).ok().and_then(|i| signal.get(i)).copied()
            };
            sum(&std::array::from_fn::<f32, { 2 * REACH }, _>(|k| at(k).unwrap_or(0.0)))
        }
    }
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
