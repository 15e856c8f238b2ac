//! Energies of a pair of channels, of their sum and difference, and of what lies outside the audible
//! band; and the largest magnitudes of a pair.

use std::ops::AddAssign;

use pulp::{Arch, Simd, WithSimd};

use crate::batch::Batch;
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
        let eights = Eights::new(simd);
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

impl WithSimd for TakeApart<'_> {
    type Output = HiddenEnergies;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> HiddenEnergies {
        let eights = Eights::new(simd);
        let [mut sum, mut above, mut under] = [[0.0; 8]; 3];
        let parts = self.low_passed.as_chunks().0.iter().zip(self.below.as_chunks().0);
        let outputs = self.audible.as_chunks_mut().0.iter_mut().zip(self.whole.as_chunks().0);
        for ((audible, &whole), (&low_passed, &below)) in outputs.zip(parts) {
            *audible = eights.sub(low_passed, below);
            let beyond = eights.sub(whole, low_passed);
            sum = eights.add(sum, whole);
            above = eights.mul_add(beyond, beyond, above);
            under = eights.mul_add(below, below, under);
        }
        let [sum, above, below] = [sum, above, under].map(total);
        HiddenEnergies { sum, above, below }
    }
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
