//! Energies of a pair of channels, of their sum and difference, and of what lies outside the audible
//! band; and the largest magnitudes of a pair.

use std::ops::AddAssign;

use pulp::{Arch, NullaryFnOnce, Simd, WithSimd};

use crate::batch::{BATCH_FRAMES, Batch};
use crate::eight::{Eight, Eights};
use crate::peak::largest_of;

/// Sums over frames of what a pair of channels a, b is made of.
///
/// The energies of a + b and a − b are summed from the signals themselves: derived from the others,
/// a deep null would drown in rounding.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct PairEnergies {
    pub(crate) aa: f64,
    pub(crate) bb: f64,
    pub(crate) ab: f64,
    pub(crate) sum: f64,
    pub(crate) difference: f64,
}

impl AddAssign for PairEnergies {
    fn add_assign(&mut self, other: Self) {
        self.aa += other.aa;
        self.bb += other.bb;
        self.ab += other.ab;
        self.sum += other.sum;
        self.difference += other.difference;
    }
}

/// Energies of a stretch of at most a batch, and the largest magnitudes of a, b and a + b. A stretch is
/// summed in single precision, everything longer in double.
pub(crate) fn pair_levels(arch: Arch, a: &[f32], b: &[f32]) -> (PairEnergies, [f32; 3]) {
    arch.dispatch(PairLevels { a, b })
}

/// Sums over frames of what a channel holds outside the audible band.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct HiddenEnergies {
    /// Of the samples themselves.
    pub(crate) sum: f64,
    /// Energy above the upper edge.
    pub(crate) above: f64,
    /// Energy below the lower edge, DC included.
    pub(crate) below: f64,
}

/// Takes a batch of a channel apart at the edges of the audible band: writes the audible band, and
/// returns what lies outside.
pub(crate) fn take_apart(
    arch: Arch,
    whole: &Batch,
    low_passed: &Batch,
    below: &Batch,
    audible: &mut Batch,
) -> HiddenEnergies {
    arch.dispatch(TakeApart { whole, low_passed, below, audible })
}

struct PairLevels<'a> {
    a: &'a [f32],
    b: &'a [f32],
}

impl WithSimd for PairLevels<'_> {
    type Output = (PairEnergies, [f32; 3]);

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> Self::Output {
        let eights = Eights(simd);
        let mut lanes = PairLanes::default();
        let ((eights_a, rest_a), (eights_b, rest_b)) = (self.a.as_chunks(), self.b.as_chunks());
        for (&a, &b) in eights_a.iter().zip(eights_b) {
            lanes.take(eights, a, b);
        }
        if !rest_a.is_empty() {
            lanes.take(eights, filled_up(rest_a), filled_up(rest_b));
        }
        let [aa, bb, ab, sum, difference] = lanes.energies.map(total);
        (
            PairEnergies { aa, bb, ab, sum, difference },
            lanes.largest.map(|eight| largest_of(&eight)),
        )
    }
}

/// What a stretch comes to, in eight parts.
#[derive(Default)]
struct PairLanes {
    /// As [`PairEnergies`] has them.
    energies: [Eight; 5],
    /// Of a, b and a + b.
    largest: [Eight; 3],
}

impl PairLanes {
    #[inline(always)]
    fn take<S: Simd>(&mut self, eights: Eights<S>, a: Eight, b: Eight) {
        let (sum, difference) = (eights.add(a, b), eights.sub(a, b));
        let factors = [(a, a), (b, b), (a, b), (sum, sum), (difference, difference)];
        for (energy, (x, y)) in self.energies.iter_mut().zip(factors) {
            *energy = eights.mul_add(x, y, *energy);
        }
        for (largest, values) in self.largest.iter_mut().zip([a, b, sum]) {
            *largest = eights.raise(*largest, values);
        }
    }
}

struct TakeApart<'a> {
    whole: &'a Batch,
    low_passed: &'a Batch,
    below: &'a Batch,
    audible: &'a mut Batch,
}

impl NullaryFnOnce for TakeApart<'_> {
    type Output = HiddenEnergies;

    #[inline(always)]
    fn call(self) -> HiddenEnergies {
        let Self { whole, low_passed, below, audible } = self;
        for i in 0..BATCH_FRAMES {
            audible[i] = low_passed[i] - below[i];
        }
        HiddenEnergies {
            sum: sum(
                whole,
                whole,
                #[inline(always)]
                |whole, _| whole,
            ),
            above: sum(
                whole,
                low_passed,
                #[inline(always)]
                |whole, low_passed| (whole - low_passed) * (whole - low_passed),
            ),
            below: sum(
                below,
                below,
                #[inline(always)]
                |below, _| below * below,
            ),
        }
    }
}

/// Adds up what `term` makes of the values of two stretches of one length.
///
/// Each sum runs over the stretch by itself: of several in one loop, the compiler makes a tangle of shuffles
/// and not a vector a sum, which takes three times as long as reading everything again.
#[inline(always)]
fn sum(x: &[f32], y: &[f32], term: impl Fn(f32, f32) -> f32) -> f64 {
    let mut lanes = [0f32; 8];
    let (runs_x, rest_x) = x.as_chunks::<8>();
    let (runs_y, rest_y) = y.as_chunks::<8>();
    for (x, y) in runs_x.iter().zip(runs_y) {
        for i in 0..8 {
            lanes[i] += term(x[i], y[i]);
        }
    }
    if !rest_x.is_empty() {
        // Filled up with zeros, of which every term is 0.
        let mut last = [[0.0; 8]; 2];
        last[0][..rest_x.len()].copy_from_slice(rest_x);
        last[1][..rest_y.len()].copy_from_slice(rest_y);
        for i in 0..8 {
            lanes[i] += term(last[0][i], last[1][i]);
        }
    }
    total(crate::fir::whole_vectors(lanes))
}

/// The end of a stretch, filled up with zeros, which add nothing.
#[inline(always)]
fn filled_up(rest: &[f32]) -> Eight {
    let mut eight = [0.0; 8];
    eight[..rest.len()].copy_from_slice(rest);
    eight
}

/// The sum of eight values, halved again and again: a ten-millionth of rounding, and few instructions.
#[inline(always)]
fn total(eight: Eight) -> f64 {
    let four: [f32; 4] = std::array::from_fn(|i| eight[i] + eight[i + 4]);
    let two = [four[0] + four[2], four[1] + four[3]];
    f64::from(two[0] + two[1])
}

#[cfg(test)]
mod tests;
