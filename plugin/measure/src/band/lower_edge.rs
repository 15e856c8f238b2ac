//! What lies below the lower edge, by a linear-phase low-pass: passed within 0.001 (60 dB) up to 0.6
//! times the edge, and less than 0.0019 from the edge on, so that what is left when it is taken
//! away is flat within 0.02 dB there.
//!
//! So narrow a filter is long: 4.2 periods of the edge on either side. It runs at a low rate: a
//! first low-pass takes the signal down, the narrow one follows there, and a third brings its output
//! back up to the full rate. The first and the third only have to keep images away, 100 dB down, and
//! are short.

use std::f64::consts::PI;
use std::sync::Arc;

use pulp::{Arch, NullaryFnOnce};

use crate::batch::{BATCH_FRAMES, Batch};
use crate::fir;

/// Half the length of the narrow filter, in periods of the lower edge.
const REACH_PERIODS: f64 = 4.2;
/// The narrow filter as a cosine series: `h(t) = c0 + 2·Σ ck·cos(πkt/T)` for |t| ≤ T, to scale.
///
/// Found by linear programming: over c0…c20 with H(0) = 1 and h(±T) = 0, the smallest e for which
/// |1 − H(f)| ≤ 0.0009·e up to 0.6 times the edge and |H(f)| ≤ 0.0020·e from 0.985 times the edge on,
/// a little early, so that a tone at the edge is whole with its side bands; there
/// `H(f) = c0·sinc(2Tf) + Σ ck·(sinc(2Tf − k) + sinc(2Tf + k))`; e is 0.948. (T. W. Parks and C. S.
/// Burrus, "Digital Filter Design", 1987, ch. 3, has the method.)
const SERIES: [f64; 21] = [
    1.0,
    1.000_139_333,
    1.000_320_69,
    0.999_812_111,
    0.999_650_296,
    0.999_797_878,
    0.852_098_073,
    0.353_032_113,
    0.021_480_151,
    0.001_520_066,
    -0.001_890_499,
    0.001_793_335,
    -0.001_740_445,
    0.001_749_963,
    -0.001_792_764,
    0.001_847_465,
    -0.001_887_757,
    0.001_891_341,
    -0.001_823_681,
    0.001_631_409,
    -0.001_199_049,
];
/// The low rate is at least this many times the lower edge.
const LEAST_RATE_PER_EDGE: f64 = 16.0;
/// An edge below this is late by itself, and a higher rate there makes the short filters shorter.
const LATE_EDGE_HZ: f64 = 10.0;
const LATE_EDGE_RATE_PER_EDGE: f64 = 32.0;
/// Ripple and images of the filters that change the rate, in decibels; 6 dB better than promised.
const ATTENUATION_DB: f64 = 106.0;

/// The taps, shared by the channels of one meter.
pub(super) struct LowerEdgePlan {
    arch: Arch,
    /// Frames to a sample of the low rate: a divisor of a batch's length, or a multiple.
    factor: usize,
    /// What each frame brings to a sample of the low rate: the sample that is complete with the last
    /// frame of a batch finds its weights `BATCH_FRAMES` before the end, those that are complete later
    /// further in front; padded, so that whole batches can be read.
    down: Vec<f32>,
    /// Samples of the low rate that one batch reaches.
    down_samples: usize,
    narrow: Vec<f32>,
    /// What a sample of the low rate brings to each frame, from the first frame that it reaches on;
    /// padded, so that whole batches can be read.
    up: Vec<f32>,
    /// Samples of the low rate that reach into one batch.
    up_samples: usize,
    delay_frames: usize,
    reach_frames: usize,
}

impl LowerEdgePlan {
    pub(super) fn new(rate_hz: f64, lower_edge_hz: f64) -> Self {
        let least = match lower_edge_hz < LATE_EDGE_HZ {
            true => LATE_EDGE_RATE_PER_EDGE,
            false => LEAST_RATE_PER_EDGE,
        };
        let factor = factor(rate_hz / (least * lower_edge_hz));
        let narrow = narrow_taps(REACH_PERIODS * rate_hz / factor as f64 / lower_edge_hz);
        let short = match factor {
            1 => vec![1.0],
            _ => {
                let width = 1.0 / factor as f64 - 2.0 * lower_edge_hz / rate_hz;
                let half = fir::half_length(ATTENUATION_DB, width);
                fir::low_pass(0.5 / factor as f64, half, ATTENUATION_DB)
            }
        };
        let (short_half, narrow_half) = (short.len() / 2, narrow.len() / 2 * factor);
        let reach_frames = 2 * short_half + narrow_half;
        let delay_frames = reach_frames.next_multiple_of(BATCH_FRAMES);
        // Sample n of the low rate leaves the narrow filter at the end of frame (n + 1)·factor − 1
        // and stands for the moment `short_half + narrow_half` frames before. The output's batch
        // begins `delay_frames` before the input's, so the first frame that may need it lies here:
        let first = delay_frames + BATCH_FRAMES - 1 - short_half - narrow_half;
        let mut up = vec![0.0; first + short_half + 1];
        let brought = up[first - short_half..].iter_mut().zip(&short);
        brought.for_each(|(slot, tap)| *slot = tap * factor as f64);
        even_out(&mut up, factor);
        let up_samples = up.len().div_ceil(factor);
        up.resize(up_samples * factor + factor.max(BATCH_FRAMES), 0.0);
        // A sample is weighed up to `factor − 1` frames behind a batch's last, and the whole length
        // of the filter before.
        let down_samples = (BATCH_FRAMES + short.len() - 1).div_ceil(factor);
        let padding = (down_samples * factor + BATCH_FRAMES).saturating_sub(short.len());
        let mut down = vec![0.0; padding];
        down.extend(&short);
        down.resize(down.len() + BATCH_FRAMES, 0.0);
        let single = |taps: Vec<f64>| taps.into_iter().map(|tap| tap as f32).collect();
        Self {
            arch: Arch::new(),
            factor,
            down: single(down),
            down_samples,
            narrow: single(narrow),
            up: single(up),
            up_samples,
            delay_frames,
            reach_frames,
        }
    }

    /// Frames by which the output is late.
    pub(super) fn delay_frames(&self) -> usize {
        self.delay_frames
    }

    /// Frames on either side of a frame that its output depends on.
    pub(super) fn reach_frames(&self) -> usize {
        self.reach_frames
    }
}

/// The largest divisor or multiple of a batch's length that is no more than `most`.
fn factor(most: f64) -> usize {
    let most = most.max(1.0) as usize;
    if most >= BATCH_FRAMES { most / BATCH_FRAMES * BATCH_FRAMES } else { 1 << most.ilog2() }
}

/// The narrow filter with half a length of `reach` samples, at unity gain.
fn narrow_taps(reach: f64) -> Vec<f64> {
    let half = reach.floor() as i64;
    let mut taps: Vec<f64> = (-half..=half)
        .map(|n| {
            let angle = PI * n as f64 / reach;
            let cosines =
                SERIES[1..].iter().zip(1..).map(|(c, k)| c * (f64::from(k) * angle).cos());
            SERIES[0] + 2.0 * cosines.sum::<f64>()
        })
        .collect();
    let gain: f64 = taps.iter().sum();
    taps.iter_mut().for_each(|tap| *tap /= gain);
    taps
}

/// Gives every phase of an interpolator the same gain, so that DC comes back as DC.
fn even_out(up: &mut [f64], factor: usize) {
    for phase in 0..factor {
        let gain: f64 = up.iter().skip(phase).step_by(factor).sum();
        up.iter_mut().skip(phase).step_by(factor).for_each(|tap| *tap /= gain);
    }
}

/// Finds what lies below the lower edge of one channel, batch by batch.
pub(super) struct LowerEdge {
    plan: Arc<LowerEdgePlan>,
    /// Samples of the low rate that are not complete, the next first; each in lanes that are added
    /// up in the end.
    coming: Vec<[f32; LANES]>,
    low_rate: History,
    /// What leaves the narrow filter.
    below: History,
    /// Frames since the last sample of the low rate.
    since_sample: usize,
}

impl LowerEdge {
    pub(super) fn new(plan: Arc<LowerEdgePlan>) -> Self {
        Self {
            coming: vec![[0.0; LANES]; plan.down_samples],
            low_rate: History::new(plan.narrow.len()),
            below: History::new(plan.up_samples),
            since_sample: 0,
            plan,
        }
    }

    pub(super) fn reset(&mut self) {
        self.coming.fill([0.0; LANES]);
        self.low_rate.reset();
        self.below.reset();
        self.since_sample = 0;
    }

    /// Readies a fresh filter for a signal whose first frame is frame `frame`, on a batch's boundary,
    /// of a longer one.
    pub(super) fn start_at(&mut self, frame: u64) {
        self.since_sample = (frame % self.plan.factor as u64) as usize;
    }

    /// Takes a batch of samples and gives one, late by the plan's delay.
    pub(super) fn process(&mut self, input: &Batch, output: &mut Batch) {
        let plan = &*self.plan;
        let (arch, factor) = (plan.arch, plan.factor);
        // How far behind this batch's last frame the next sample is complete; negative inside it.
        let next = factor as isize - (self.since_sample + BATCH_FRAMES) as isize;
        let end = (plan.down.len() - BATCH_FRAMES) as isize;
        let weights = &plan.down[..(end - next) as usize];
        arch.dispatch(Lower { input, weights, factor, coming: &mut self.coming });
        self.since_sample += BATCH_FRAMES;
        let complete = self.since_sample / factor;
        self.since_sample %= factor;
        for lanes in &self.coming[..complete] {
            self.low_rate.push(lanes.iter().sum());
            let low_rate = self.low_rate.latest(plan.narrow.len());
            self.below.push(fir::dot(arch, low_rate, &plan.narrow));
        }
        self.coming.copy_within(complete.., 0);
        let kept = self.coming.len() - complete;
        self.coming[kept..].fill([0.0; LANES]);
        let below = self.below.latest(plan.up_samples);
        arch.dispatch(Raise { below, weights: &plan.up[self.since_sample..], factor, output });
    }
}

/// Vector width that the loops below are written for.
const LANES: usize = 8;
/// Frames that are held in registers at once.
const RUN: usize = 4 * LANES;

/// Brings a batch to the samples of the low rate that it reaches.
struct Lower<'a> {
    input: &'a Batch,
    /// Up to those of the next sample.
    weights: &'a [f32],
    factor: usize,
    coming: &'a mut [[f32; LANES]],
}

impl NullaryFnOnce for Lower<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let Self { input, weights, factor, coming } = self;
        for (ahead, sums) in coming.iter_mut().enumerate() {
            let end = weights.len() - ahead * factor;
            let weights: &Batch =
                weights[..end].last_chunk().expect("the weights are padded to whole batches");
            let mut held = *sums;
            for (x, weight) in
                input.as_chunks::<LANES>().0.iter().zip(weights.as_chunks::<LANES>().0)
            {
                for i in 0..LANES {
                    held[i] += x[i] * weight[i];
                }
            }
            *sums = held;
        }
    }
}

/// Brings samples of the low rate, oldest first, to the frames of a batch.
struct Raise<'a> {
    below: &'a [f32],
    /// From those of the batch's first frame in the latest sample on.
    weights: &'a [f32],
    factor: usize,
    output: &'a mut Batch,
}

impl NullaryFnOnce for Raise<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let Self { below, weights, factor, output } = self;
        for (run, output) in output.as_chunks_mut::<RUN>().0.iter_mut().enumerate() {
            let weights = &weights[run * RUN..];
            let mut sums = [0.0; RUN];
            for (age, sample) in below.iter().rev().enumerate() {
                let weights: &[f32; RUN] = weights[age * factor..]
                    .first_chunk()
                    .expect("the weights are padded to whole batches");
                for i in 0..RUN {
                    sums[i] += sample * weights[i];
                }
            }
            *output = sums;
        }
    }
}

/// The latest samples of a stream in one piece, in twice the room, so that they seldom move.
struct History {
    samples: Vec<f32>,
    filled: usize,
}

impl History {
    fn new(length: usize) -> Self {
        Self { samples: vec![0.0; 2 * length], filled: length }
    }

    fn reset(&mut self) {
        self.samples.fill(0.0);
        self.filled = self.samples.len() / 2;
    }

    fn push(&mut self, sample: f32) {
        if self.filled == self.samples.len() {
            let length = self.samples.len() / 2;
            self.samples.copy_within(length + 1.., 0);
            self.filled = length - 1;
        }
        self.samples[self.filled] = sample;
        self.filled += 1;
    }

    fn latest(&self, count: usize) -> &[f32] {
        &self.samples[self.filled - count..self.filled]
    }
}

#[cfg(test)]
mod tests;
