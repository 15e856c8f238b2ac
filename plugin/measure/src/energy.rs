//! Energies of a pair of channels and of their sum and difference.

use std::ops::AddAssign;

use pulp::{Arch, NullaryFnOnce};

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

/// Energies of a stretch of at most a step. A stretch is summed in single precision, everything longer in
/// double.
pub(crate) fn pair_energies(arch: Arch, a: &[f32], b: &[f32]) -> PairEnergies {
    arch.dispatch(Energies { a, b })
}

/// Sum of a stretch, and energy of what two stretches differ by.
pub(crate) fn sum_and_residue(arch: Arch, whole: &[f32], part: &[f32]) -> (f64, f64) {
    arch.dispatch(Residue { whole, part })
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

struct Residue<'a> {
    whole: &'a [f32],
    part: &'a [f32],
}

impl NullaryFnOnce for Residue<'_> {
    type Output = (f64, f64);

    #[inline(always)]
    fn call(self) -> (f64, f64) {
        let mut sums = [0f32; LANES];
        let mut residues = [0f32; LANES];
        in_lanes(
            self.whole,
            self.part,
            #[inline(always)]
            |whole, part| {
                for i in 0..LANES {
                    let residue = whole[i] - part[i];
                    sums[i] += whole[i];
                    residues[i] += residue * residue;
                }
            },
        );
        (total(sums), total(residues))
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
