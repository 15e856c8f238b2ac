//! The interpolating filter: a sinc under a window, cut into eighths of a sample.

use pulp::Simd;

use super::{ATTENUATION_DB, HALFWAY, MOST_TAPS, PHASES, Samples};
use crate::fir;

/// Weights of a sample for the points from half a sample before a centre to three eighths behind it.
type Eighths = [f32; PHASES];
/// Sums that need not wait for each other.
const SUMS: usize = 4;

/// The weights of an interpolator with `REACH` taps on either side.
pub(super) struct Weights<const REACH: usize> {
    /// Of the samples nearest to a halfway point, from the furthest before it on.
    pub(super) halfway: [f32; MOST_TAPS],
    /// Around a sample, and around a halfway point: of as many samples as there are taps, and another.
    around: [Vec<Eighths>; 2],
    /// Largest sum of magnitudes of the weights of one point: none can exceed the largest sample in
    /// reach by more.
    pub(super) bound: f32,
}

impl<const REACH: usize> Weights<REACH> {
    pub(super) const TAPS: usize = 2 * REACH;

    pub(super) fn new() -> Self {
        let beta = fir::kaiser_beta(ATTENUATION_DB);
        // `phases[p][k]`: of sample k − REACH + 1 for the point p/8 behind sample 0.
        let mut phases = [[0.0; MOST_TAPS]; PHASES];
        for (p, phase) in phases.iter_mut().enumerate() {
            let weight = |k: usize| {
                let t = k as f64 - (REACH as f64 - 1.0) - p as f64 / PHASES as f64;
                fir::sinc(t) * fir::kaiser(t / REACH as f64, beta)
            };
            let gain: f64 = (0..Self::TAPS).map(weight).sum();
            for (k, slot) in phase.iter_mut().take(Self::TAPS).enumerate() {
                *slot = (weight(k) / gain) as f32;
            }
        }
        let sums = phases.iter().map(|phase| phase.iter().map(|weight| weight.abs()).sum());
        let around_halfway = |k: usize| phases.map(|phase| phase.get(k).copied().unwrap_or(0.0));
        // Before a sample, the points are those of the last half of the sample before.
        let around_sample = |k: usize| -> Eighths {
            std::array::from_fn(|eighth| match eighth.checked_sub(HALFWAY) {
                None => phases[eighth + HALFWAY].get(k).copied().unwrap_or(0.0),
                Some(phase) => k.checked_sub(1).map_or(0.0, |k| phases[phase][k]),
            })
        };
        Self {
            halfway: phases[HALFWAY],
            around: [
                (0..=Self::TAPS).map(around_sample).collect(),
                (0..=Self::TAPS).map(around_halfway).collect(),
            ],
            bound: sums.fold(1.0, f32::max),
        }
    }

    /// The waveform at eight places, from half a sample before the point `halves` half samples behind the
    /// first sample to three eighths behind it.
    #[inline(always)]
    pub(super) fn eighths<S: Simd>(&self, simd: S, samples: &Samples, halves: usize) -> Eighths {
        const { assert!(PHASES.is_multiple_of(S::F32_LANES)) };
        let first = halves.div_ceil(2) - REACH;
        let samples = &samples[first..][..=Self::TAPS];
        let weights = &self.around[halves % 2][..=Self::TAPS];
        let vectors = PHASES / S::F32_LANES;
        let mut sums = [[simd.splat_f32s(0.0); PHASES]; SUMS];
        let (samples, last) = samples.as_chunks::<SUMS>();
        let (weights, last_weights) = weights.as_chunks::<SUMS>();
        let mut add = |sum: usize, sample: f32, weights: &Eighths| {
            let weights = S::as_simd_f32s(weights).0;
            for (sum, &weight) in sums[sum][..vectors].iter_mut().zip(weights) {
                *sum = simd.mul_add_e_f32s(simd.splat_f32s(sample), weight, *sum);
            }
        };
        for (samples, weights) in samples.iter().zip(weights) {
            for i in 0..SUMS {
                add(i, samples[i], &weights[i]);
            }
        }
        for (&sample, weights) in last.iter().zip(last_weights) {
            add(0, sample, weights);
        }
        let mut eighths = [0.0; PHASES];
        let out = S::as_mut_simd_f32s(&mut eighths).0;
        for (vector, out) in out.iter_mut().enumerate() {
            let [a, b, c, d] = sums.map(|sum| sum[vector]);
            *out = simd.add_f32s(simd.add_f32s(a, b), simd.add_f32s(c, d));
        }
        eighths
    }
}
