//! Energies of a pair of channels, of their sum and difference, and of what lies outside the audible
//! band.

use std::ops::AddAssign;

use pulp::{Arch, NullaryFnOnce};

use crate::batch::Batch;

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

/// Vector width that the loops below are written for.
const LANES: usize = 8;

/// Energies of a stretch of at most a batch. A stretch is summed in single precision, everything longer in
/// double.
pub(crate) fn pair_energies(arch: Arch, a: &[f32], b: &[f32]) -> PairEnergies {
    arch.dispatch(Energies { a, b })
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

struct Energies<'a> {
    a: &'a [f32],
    b: &'a [f32],
}

impl NullaryFnOnce for Energies<'_> {
    type Output = PairEnergies;

    #[inline(always)]
    fn call(self) -> PairEnergies {
        let mut aa = [0f32; LANES];
        let mut bb = [0f32; LANES];
        let mut ab = [0f32; LANES];
        let mut sums = [0f32; LANES];
        let mut differences = [0f32; LANES];
        in_lanes(
            self.a,
            self.b,
            #[inline(always)]
            |a, b| {
                for i in 0..LANES {
                    let (sum, difference) = (a[i] + b[i], a[i] - b[i]);
                    aa[i] += a[i] * a[i];
                    bb[i] += b[i] * b[i];
                    ab[i] += a[i] * b[i];
                    sums[i] += sum * sum;
                    differences[i] += difference * difference;
                }
            },
        );
        PairEnergies {
            aa: total(aa),
            bb: total(bb),
            ab: total(ab),
            sum: total(sums),
            difference: total(differences),
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
        let mut sums = [0f32; LANES];
        let mut aboves = [0f32; LANES];
        let mut belows = [0f32; LANES];
        let [whole, low_passed, below] =
            [self.whole, self.low_passed, self.below].map(|batch| batch.as_chunks::<LANES>().0);
        let audible = self.audible.as_chunks_mut::<LANES>().0;
        let runs = whole.iter().zip(low_passed).zip(below).zip(audible);
        for (((whole, low_passed), below), audible) in runs {
            for i in 0..LANES {
                let above = whole[i] - low_passed[i];
                audible[i] = low_passed[i] - below[i];
                sums[i] += whole[i];
                aboves[i] += above * above;
                belows[i] += below[i] * below[i];
            }
        }
        HiddenEnergies { sum: total(sums), above: total(aboves), below: total(belows) }
    }
}

/// Calls `add` with each run of values of two stretches of one length; the last is filled up with
/// zeros.
#[inline(always)]
fn in_lanes(x: &[f32], y: &[f32], mut add: impl FnMut(&[f32; LANES], &[f32; LANES])) {
    let (runs_x, rest_x) = x.as_chunks::<LANES>();
    let (runs_y, rest_y) = y.as_chunks::<LANES>();
    for (x, y) in runs_x.iter().zip(runs_y) {
        add(x, y);
    }
    if !rest_x.is_empty() {
        let mut last = [[0.0; LANES]; 2];
        last[0][..rest_x.len()].copy_from_slice(rest_x);
        last[1][..rest_y.len()].copy_from_slice(rest_y);
        add(&last[0], &last[1]);
    }
}

/// The sum of the lanes, halved again and again: a ten-millionth of rounding, and few instructions.
#[inline(always)]
fn total(lanes: [f32; LANES]) -> f64 {
    let four: [f32; 4] = std::array::from_fn(|i| lanes[i] + lanes[i + 4]);
    let two = [four[0] + four[2], four[1] + four[3]];
    f64::from(two[0] + two[1])
}

#[cfg(test)]
mod tests;
