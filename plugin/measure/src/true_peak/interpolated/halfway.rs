//! The points halfway between the samples of a batch.

use pulp::Simd;

use super::{HALFWAY, Interpolator};
use crate::batch::BATCH_FRAMES;

/// Points that are summed up side by side: four vectors of eight.
const BLOCK: usize = 32;
/// A sample and the one so many taps further are read for the same vectors, each a tap apart from the next.
const STRIDE: usize = 8;

/// Halfway points of the batch that was looked at last.
#[derive(Clone)]
pub(super) struct Halfway {
    /// A batch's, and before them the last two of the batch before.
    pub(super) points: [f32; BATCH_FRAMES + 2],
    /// Whether they are those of the latest batch.
    is_known: bool,
    /// The largest magnitude of the batch's own.
    pub(super) largest: f32,
}

impl Halfway {
    pub(super) const UNKNOWN: Self =
        Self { points: [0.0; BATCH_FRAMES + 2], is_known: false, largest: 0.0 };

    /// A batch goes by whose points are not worked out.
    #[inline(always)]
    pub(super) fn pass(&mut self) {
        self.is_known = false;
    }
}

impl<const REACH: usize> Interpolator<REACH> {
    /// Moves the last two points to the front, if they are those of the batch before; otherwise the last
    /// is worked out. Of the last but one nothing is asked but whether a sinusoid meets it.
    #[inline(always)]
    fn keep_last<S: Simd>(&mut self, simd: S) {
        let Halfway { points, is_known, .. } = &mut self.halfway;
        let before = if std::mem::replace(is_known, true) {
            [points[BATCH_FRAMES], points[BATCH_FRAMES + 1]]
        } else {
            let eighths = self.weights.eighths(simd, &self.samples, 2 * (REACH - 1) + 1);
            [0.0, eighths[HALFWAY]]
        };
        points[..2].copy_from_slice(&before);
    }

    /// Works the halfway points of the latest batch out.
    #[inline(always)]
    pub(super) fn interpolate_halfway<S: Simd>(&mut self, simd: S) {
        const { assert!(REACH.is_multiple_of(STRIDE) && BLOCK.is_multiple_of(S::F32_LANES)) };
        self.keep_last(simd);
        let Self { weights, samples, halfway, .. } = self;
        let weights = &weights.halfway;
        let mut largest = simd.splat_f32s(0.0);
        for (block, points) in halfway.points[2..].as_chunks_mut::<BLOCK>().0.iter_mut().enumerate()
        {
            // The point behind sample REACH + j leans on samples j + 1 to j + 2·REACH. Weights are
            // the same on both sides, so samples are added in pairs first.
            let first = block * BLOCK + 1;
            let points = S::as_mut_simd_f32s(points).0;
            let mut sums = [simd.splat_f32s(0.0); BLOCK];
            let sums = &mut sums[..BLOCK / S::F32_LANES];
            for offset in 0..STRIDE {
                for tap in (offset..REACH).step_by(STRIDE) {
                    let weight = simd.splat_f32s(weights[tap]);
                    let near = S::as_simd_f32s(&samples[first + tap..][..BLOCK]).0;
                    let far = S::as_simd_f32s(&samples[first + Self::TAPS - 1 - tap..][..BLOCK]).0;
                    for (sum, (&near, &far)) in sums.iter_mut().zip(near.iter().zip(far)) {
                        *sum = simd.mul_add_e_f32s(weight, simd.add_f32s(near, far), *sum);
                    }
                }
            }
            for (point, &sum) in points.iter_mut().zip(&*sums) {
                *point = sum;
                largest = simd.max_f32s(largest, simd.abs_f32s(sum));
            }
        }
        halfway.largest = simd.reduce_max_f32s(largest);
    }

    /// The same where those of two signals are known whose sum this is: interpolation is linear.
    #[inline(always)]
    pub(super) fn add_halfway<S: Simd>(&mut self, simd: S, a: &Halfway, b: &Halfway) {
        self.keep_last(simd);
        let mut largest = simd.splat_f32s(0.0);
        let points = S::as_mut_simd_f32s(&mut self.halfway.points[2..]).0;
        let [a, b] = [a, b].map(|of| S::as_simd_f32s(&of.points[2..]).0);
        for (point, (&a, &b)) in points.iter_mut().zip(a.iter().zip(b)) {
            *point = simd.add_f32s(a, b);
            largest = simd.max_f32s(largest, simd.abs_f32s(*point));
        }
        self.halfway.largest = simd.reduce_max_f32s(largest);
    }
}
