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

/// Energies of a stretch of at most a step. Short runs are summed in single precision (eight terms a
/// lane), everything longer in double.
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
        let mut lanes = [[0f32; LANES]; 5];
        let mut add = |i: usize, a: f32, b: f32| {
            let (sum, difference) = (a + b, a - b);
            lanes[0][i] += a * a;
            lanes[1][i] += b * b;
            lanes[2][i] += a * b;
            lanes[3][i] += sum * sum;
            lanes[4][i] += difference * difference;
        };
        pairwise(self.a, self.b, &mut add);
        let [aa, bb, ab, sum, difference] = lanes.map(total);
        PairEnergies { aa, bb, ab, sum, difference }
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
        let mut add = |i: usize, whole: f32, part: f32| {
            sums[i] += whole;
            residues[i] += (whole - part) * (whole - part);
        };
        pairwise(self.whole, self.part, &mut add);
        (total(sums), total(residues))
    }
}

/// Calls `add` with a lane and the values there, over two stretches of one length.
#[inline(always)]
fn pairwise(x: &[f32], y: &[f32], add: &mut impl FnMut(usize, f32, f32)) {
    let (chunks_x, rest_x) = x.as_chunks::<LANES>();
    let (chunks_y, rest_y) = y.as_chunks::<LANES>();
    for (x, y) in chunks_x.iter().zip(chunks_y) {
        for i in 0..LANES {
            add(i, x[i], y[i]);
        }
    }
    for (i, (&x, &y)) in rest_x.iter().zip(rest_y).enumerate() {
        add(i, x, y);
    }
}

#[inline(always)]
fn total(lanes: [f32; LANES]) -> f64 {
    lanes.iter().map(|&x| f64::from(x)).sum()
}
