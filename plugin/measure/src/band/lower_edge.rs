//! What lies below the lower edge, by a linear-phase low-pass: passed within 0.001 (60 dB) up to 0.6
//! times the edge, and less than 0.0019 from the edge on, so that what is left when it is taken
//! away is flat within 0.02 dB there.
//!
//! So narrow a filter is long: 4.2 periods of the edge on either side. It runs at a low rate:
//! [`moving_sums`] take the signal down, the narrow filter follows there, evens out what they take
//! off in its band, and the same moving sums bring its output back up to the full rate. They only have
//! to keep images away, 100 dB down, and are short.

mod moving_sums;

use std::f64::consts::{PI, TAU};
use std::sync::Arc;

use pulp::{Arch, Simd, WithSimd};

use crate::batch::{BATCH_FRAMES, Batch};
use crate::fir;
use moving_sums::MovingSums;

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
/// Up to where the narrow filter passes what comes, in lower edges.
const PASSED_SHARE: f64 = 0.6;
/// The low rate is at least this many times the lower edge.
const LEAST_RATE_PER_EDGE: f64 = 16.0;
/// Taps of a vector of [`fir::dot`].
const VECTOR_TAPS: usize = 8;

/// The taps, shared by the channels of one meter.
pub(super) struct LowerEdgePlan {
    arch: Arch,
    /// Frames to a sample of the low rate: a divisor of a batch's length, or a multiple.
    factor: usize,
    /// `[phase][sample]`, a phase for every batch that may follow a sample's last frame: what samples
    /// of the low rate bring to the frames of a batch, oldest first. The taps are the same forwards
    /// and backwards, so it is also what the frames bring to as many samples that are coming.
    weights: Vec<Vec<[Batch; SIDE_BY_SIDE]>>,
    /// Taps of the narrow filter, oldest first, among zeros.
    narrow: Vec<f32>,
    delay_frames: usize,
    reach_frames: usize,
}

impl LowerEdgePlan {
    pub(super) fn new(rate_hz: f64, lower_edge_hz: f64) -> Self {
        let factor = factor(rate_hz / (LEAST_RATE_PER_EDGE * lower_edge_hz));
        let edge = lower_edge_hz / rate_hz;
        let sums = MovingSums::new(factor, edge);
        let passed = PASSED_SHARE * edge;
        let narrow = evened_out(
            &narrow_taps(REACH_PERIODS / (factor as f64 * edge)),
            passed * factor as f64,
            sums.gain(passed).powi(2),
        );
        let narrow_half = narrow.len() / 2;
        let reach_frames = sums.count() * (factor - 1) + narrow_half * factor;
        // A batch's last frame, too, finds its samples complete before the batch that comes in.
        let samples = sums.count() + BATCH_FRAMES.div_ceil(factor) - 1;
        let samples = samples.next_multiple_of(SIDE_BY_SIDE);
        let least = (samples + narrow_half) * factor;
        let delay_frames = least.next_multiple_of(BATCH_FRAMES);
        let taps = sums.taps();
        let first = samples * factor - taps.len();
        let tap = |frame: usize| {
            let tap = frame.checked_sub(first).and_then(|n| taps.get(n));
            tap.map_or(0.0, |tap| *tap as f32)
        };
        let weights = |since: usize, sample: usize| -> Batch {
            std::array::from_fn(|i| tap(since + (samples - 1 - sample) * factor + i))
        };
        let side_by_side = |since, first| std::array::from_fn(|i| weights(since, first + i));
        // The taps make up for what the moving sums gain; the zeros behind them wait until the delay is
        // one of whole batches, those in front leave nothing over beside whole vectors.
        let late = (delay_frames - least) / factor;
        let length = (narrow.len() + late).next_multiple_of(VECTOR_TAPS);
        let mut padded = vec![0.0; length];
        let padded_taps = padded[length - late - narrow.len()..].iter_mut().zip(&narrow);
        padded_taps.for_each(|(slot, tap)| *slot = (tap / factor as f64) as f32);
        Self {
            arch: Arch::new(),
            factor,
            weights: (0..factor)
                .step_by(BATCH_FRAMES)
                .map(|since| {
                    let firsts = (0..samples).step_by(SIDE_BY_SIDE);
                    firsts.map(|first| side_by_side(since, first)).collect()
                })
                .collect(),
            narrow: padded,
            delay_frames,
            reach_frames,
        }
    }

    /// Samples of the low rate that one batch reaches, and that reach into one batch.
    fn samples(&self) -> usize {
        self.weights[0].len() * SIDE_BY_SIDE
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

/// Makes up for a `gain` at a frequency, in cycles a sample, that falls from 1 at 0 Hz as a parabola
/// does.
fn evened_out(taps: &[f64], frequency: f64, gain: f64) -> Vec<f64> {
    let side = (1.0 - 1.0 / gain) / (2.0 - 2.0 * (TAU * frequency).cos());
    let mut evened = vec![0.0; taps.len() + 2];
    for (n, tap) in taps.iter().enumerate() {
        evened[n] += side * tap;
        evened[n + 1] += (1.0 - 2.0 * side) * tap;
        evened[n + 2] += side * tap;
    }
    evened
}

/// Finds what lies below the lower edge of one channel, batch by batch.
pub(super) struct LowerEdge {
    plan: Arc<LowerEdgePlan>,
    /// Samples of the low rate that are not complete, the next first.
    coming: Vec<f32>,
    low_rate: History,
    /// What leaves the narrow filter.
    below: History,
    /// Frames since the last sample of the low rate.
    since_sample: usize,
}

impl LowerEdge {
    pub(super) fn new(plan: Arc<LowerEdgePlan>) -> Self {
        Self {
            coming: vec![0.0; plan.samples()],
            low_rate: History::new(plan.narrow.len()),
            below: History::new(plan.samples()),
            since_sample: 0,
            plan,
        }
    }

    pub(super) fn reset(&mut self) {
        self.coming.fill(0.0);
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
        plan.arch.dispatch(Move {
            input,
            weights: &plan.weights[self.since_sample / BATCH_FRAMES],
            coming: &mut self.coming,
            below: self.below.latest(plan.samples()),
            output,
        });
        self.since_sample += BATCH_FRAMES;
        let complete = self.since_sample / plan.factor;
        self.since_sample %= plan.factor;
        if complete == 0 {
            return;
        }
        for sample in &self.coming[..complete] {
            self.low_rate.push(*sample);
            let low_rate = self.low_rate.latest(plan.narrow.len());
            self.below.push(fir::dot(plan.arch, low_rate, &plan.narrow));
        }
        self.coming.copy_within(complete.., 0);
        let kept = self.coming.len() - complete;
        self.coming[kept..].fill(0.0);
    }
}

/// Samples of the low rate that the loop below keeps in registers.
const SIDE_BY_SIDE: usize = 4;

/// Brings the frames of a batch to the samples of the low rate that are coming, and those that lie
/// below the edge to the frames of the batch that is due.
struct Move<'a> {
    input: &'a Batch,
    /// `[sample]`, as the next two.
    weights: &'a [[Batch; SIDE_BY_SIDE]],
    coming: &'a mut [f32],
    below: &'a [f32],
    output: &'a mut Batch,
}

impl WithSimd for Move<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Self { input, weights, coming, below, output } = self;
        *output = [0.0; BATCH_FRAMES];
        let (input, output) = (S::as_simd_f32s(input).0, S::as_mut_simd_f32s(output).0);
        let coming = coming.as_chunks_mut::<SIDE_BY_SIDE>().0.iter_mut();
        let samples = coming.zip(below.as_chunks::<SIDE_BY_SIDE>().0);
        for (weights, (coming, below)) in weights.iter().zip(samples) {
            let weights = weights.each_ref().map(|weights| S::as_simd_f32s(weights).0);
            let below = below.map(|sample| simd.splat_f32s(sample));
            let mut sums = [simd.splat_f32s(0.0); SIDE_BY_SIDE];
            for (at, (&x, output)) in input.iter().zip(&mut *output).enumerate() {
                let mut raised = *output;
                for i in 0..SIDE_BY_SIDE {
                    let weights = weights[i][at];
                    sums[i] = simd.mul_add_e_f32s(x, weights, sums[i]);
                    raised = simd.mul_add_e_f32s(below[i], weights, raised);
                }
                *output = raised;
            }
            for (sample, sum) in coming.iter_mut().zip(sums) {
                *sample += simd.reduce_sum_f32s(sum);
            }
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
