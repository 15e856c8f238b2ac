//! The look at a batch with its rate doubled, and closer where a new maximum can be.

use pulp::{NullaryFnOnce, Simd};

use super::fit::{FIT_SHORTFALL, Fit, SINUSOID_SHARE, may_top};
use super::{Interpolator, PHASES};
use crate::batch::{BATCH_FRAMES, Batch};
use crate::peak::largest_of;
use crate::true_peak::shift::SignalShift;

/// A point of the doubled rate with two on either side.
type Five = [f32; 5];

impl<const REACH: usize> Interpolator<REACH> {
    /// Looks at the batch with its rate doubled: points at samples `REACH + j` and halfway behind. No
    /// sample is larger than `largest`.
    #[inline(always)]
    pub(super) fn look<S: Simd>(&mut self, simd: S, largest: f32, shift: Option<SignalShift>) {
        // Where the batch before is not to be read, the first point is this batch's first sample.
        let first = if std::mem::take(&mut self.begins) { REACH } else { 0 };
        let largest_halfway = match first {
            0 => self.halfway.largest,
            _ => largest_of(&self.halfway.points[2 + first..]),
        };
        self.held = f32::max(self.held, largest_halfway);
        let looked_at = self.looked_at(shift);
        let before = self.halfway.points[1].abs();
        let largest = largest.max(before).max(self.halfway.largest);
        if largest >= self.point_share * self.floor(looked_at) {
            self.scan(simd, first, looked_at);
        }
        if shift.is_some() && looked_at.is_none() {
            self.shifted.held = f32::max(self.shifted.held, self.held());
        }
    }

    /// Looks at each local maximum of the doubled rate that could top what is held, from the last
    /// halfway point of the batch before to the last sample but one of this; or from the sample
    /// `begin` in reach on, where that is not 0.
    #[inline(always)]
    fn scan<S: Simd>(&mut self, simd: S, begin: usize, shift: Option<SignalShift>) {
        // All runs are asked at once, since what noise answers one by one cannot be foretold.
        let mut reached = [0.0; BATCH_FRAMES];
        let reached_most = self.find_reached(simd, &mut reached);
        let square = |floor: f32| floor * floor;
        if reached_most < square(self.floor(shift)) {
            return;
        }
        for start in (0..BATCH_FRAMES).step_by(S::F32_LANES) {
            let least = simd.splat_f32s(square(self.floor(shift)));
            let reached = vector::<S>(&reached[start..]);
            if first(simd, simd.greater_than_or_equal_f32s(reached, least)).is_some() {
                // Seldom, and apart, so that it takes no registers from the loop.
                simd.vectorize(LookAtRun { simd, of: self, start, begin, shift });
            }
        }
    }

    /// The squares that no maximum exceeds which is nearest to a halfway point of the doubled rate or to the
    /// sample behind it; and the highest.
    #[inline(always)]
    fn find_reached<S: Simd>(&self, simd: S, reached: &mut Batch) -> f32 {
        let (h, s) = (&self.halfway.points[1..], &self.samples[REACH - 1..]);
        let mut highest = simd.splat_f32s(0.0);
        let reached = S::as_mut_simd_f32s(reached).0;
        for (reached, start) in reached.iter_mut().zip((0..).step_by(S::F32_LANES)) {
            let (h, s) = (&h[start..], &s[start..]);
            let [s0, h1, s1, h2] = [s, h, &s[1..], &h[1..]].map(vector::<S>);
            *reached = self.tops.between(simd, [s0, h1, s1, h2]);
            highest = simd.max_f32s(highest, *reached);
        }
        simd.reduce_max_f32s(highest)
    }

    /// A look at a run of as many points as a vector has.
    #[inline(always)]
    fn look_at_run<S: Simd>(
        &mut self,
        simd: S,
        start: usize,
        begin: usize,
        shift: Option<SignalShift>,
    ) {
        let floor = self.floor(shift);
        let least = simd.splat_f32s(self.point_share * floor);
        let [h, s] = [&self.halfway.points[start..], &self.samples[REACH - 1 + start..]];
        let [h0, s0, h1, s1, h2, s2] = [h, s, &h[1..], &s[1..], &h[2..], &s[2..]].map(vector::<S>);
        let marked = [[h0, s0, h1, s1, h2], [s0, h1, s1, h2, s2]].map(|points| {
            let is_high = simd.greater_than_or_equal_f32s(simd.abs_f32s(points[2]), least);
            simd.and_m32s(is_high, may_top(simd, points, floor))
        });
        for (of_place, mut marked) in marked.into_iter().enumerate() {
            while let Some(lane) = first(simd, marked) {
                let place = 2 * (start + lane + 1) + of_place;
                let passed_over = begin > 0 && place < 2 * begin + 3;
                if !passed_over {
                    self.look_at(simd, &self.five(place), place, shift);
                }
                let behind = simd.mask_between_m32s(lane as u32 + 1, S::F32_LANES as u32);
                marked = simd.and_m32s(marked, behind.mask());
            }
        }
    }

    /// The point of the doubled rate that is the one `place` behind the last halfway point but one of the
    /// batch before, with two on either side.
    #[inline(always)]
    fn five(&self, place: usize) -> Five {
        std::array::from_fn(|i| {
            let place = place + i - 2;
            let of_halfway = place / 2;
            if place.is_multiple_of(2) {
                self.halfway.points[of_halfway]
            } else {
                self.samples[REACH - 1 + of_halfway]
            }
        })
    }

    /// Looks at the local maximum in the middle of five points of the doubled rate, which is the one
    /// `place` behind the last halfway point but one of the batch before.
    #[inline(always)]
    fn look_at<S: Simd>(
        &mut self,
        simd: S,
        points: &Five,
        place: usize,
        shift: Option<SignalShift>,
    ) {
        let [outer_before, before, here, behind, outer_behind] = *points;
        let fit = Fit::through(before, here, behind);
        let most = fit.top * FIT_SHORTFALL;
        // Points 3, 5… are the samples REACH, REACH + 1… of which REACH are the batch's before.
        let frame = place.div_ceil(2) + BATCH_FRAMES - REACH - 2;
        let shift = shift.map(|shift| shift.at(frame) * here.signum());
        let may_top = most > self.held;
        let may_top_shifted = shift.is_some_and(|shift| most + shift > self.shifted.held);
        if !may_top && !may_top_shifted {
            return;
        }
        let outer_sum = 2.0 * here * (2.0 * fit.cosine * fit.cosine - 1.0);
        let outer_rise = 2.0 * fit.cosine * (behind - before);
        let near = SINUSOID_SHARE * fit.top;
        // A negative cosine would be a frequency above half the rate.
        let is_sinusoid = fit.cosine >= 0.0
            && (outer_before + outer_behind - outer_sum).abs() <= near
            && (outer_behind - outer_before - outer_rise).abs() <= near;
        let top = if is_sinusoid { fit.top } else { self.look_closer(simd, place, behind) };
        if may_top {
            self.held = self.held.max(top);
        }
        if let Some(shift) = shift.filter(|_| may_top_shifted) {
            self.shifted.held = self.shifted.held.max(top + shift);
        }
    }

    /// The maximum around a point of the doubled rate, with the one behind it.
    #[inline(always)]
    fn look_closer<S: Simd>(&self, simd: S, place: usize, behind: f32) -> f32 {
        // Points 1, 3, 5… are the samples REACH − 1, REACH, REACH + 1…
        let halves = 2 * (REACH - 1) + place - 1;
        let eighths = self.weights.eighths(simd, &self.samples, halves);
        // Magnitudes from half a sample before to half a sample behind.
        let mut points = [behind.abs(); PHASES + 1];
        points[..PHASES].copy_from_slice(&eighths.map(f32::abs));
        let mut highest = 0.0;
        for three in points.array_windows() {
            let &[before, here, behind] = three;
            if here >= before && here >= behind {
                highest = f32::max(highest, Fit::through(before, here, behind).top);
            }
        }
        highest
    }
}

/// A look at a run.
struct LookAtRun<'a, S, const REACH: usize> {
    simd: S,
    of: &'a mut Interpolator<REACH>,
    start: usize,
    begin: usize,
    shift: Option<SignalShift<'a>>,
}

impl<S: Simd, const REACH: usize> NullaryFnOnce for LookAtRun<'_, S, REACH> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        self.of.look_at_run(self.simd, self.start, self.begin, self.shift);
    }
}

/// As many points as a vector has.
#[inline(always)]
fn vector<S: Simd>(points: &[f32]) -> S::f32s {
    S::as_simd_f32s(&points[..S::F32_LANES]).0[0]
}

/// The first lane of which something is so.
#[inline(always)]
fn first<S: Simd>(simd: S, mask: S::m32s) -> Option<usize> {
    let lane = simd.first_true_m32s(mask);
    (lane < S::F32_LANES).then_some(lane)
}
