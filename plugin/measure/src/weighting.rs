//! K-weighting of one pair of channels in both bands.
//!
//! Four signals run side by side through the same batches, so that a processor with vectors of four
//! doubles does them at once: audible A, audible B, whole A, whole B.

use pulp::{Arch, Simd, WithSimd};

use crate::four::{Four, Fours};
use crate::k_weighting;

/// Energies that the filters leave, summed over frames.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct WeightedEnergies {
    /// K-weighted: audible A, audible B, whole A, whole B.
    pub(crate) k: [f64; 4],
    /// K-weighted A + B: audible, whole.
    pub(crate) k_sum: [f64; 2],
}

impl std::ops::AddAssign for WeightedEnergies {
    fn add_assign(&mut self, other: Self) {
        let add = |held: &mut [f64], other: &[f64]| {
            held.iter_mut().zip(other).for_each(|(held, energy)| *held += energy);
        };
        add(&mut self.k, &other.k);
        add(&mut self.k_sum, &other.k_sum);
    }
}

/// One stretch of a pair of channels, `[frame]` each, all of one length.
pub(crate) struct WeightingInput<'a> {
    pub(crate) audible_a: &'a [f32],
    pub(crate) audible_b: &'a [f32],
    pub(crate) whole_a: &'a [f32],
    pub(crate) whole_b: &'a [f32],
}

#[derive(Clone)]
pub(crate) struct Weighting {
    arch: Arch,
    filter: Filter,
}

impl Weighting {
    pub(crate) fn new(rate_hz: f64) -> Self {
        Self { arch: Arch::new(), filter: Filter::new(rate_hz) }
    }

    pub(crate) fn reset(&mut self) {
        self.filter.shelf.latest = [[0.0; 4]; 2];
        self.filter.high_pass.latest = [[0.0; 4]; 2];
    }

    /// Drops what has decayed below any meaning, before it becomes denormal and slow.
    pub(crate) fn settle(&mut self) {
        let Filter { shelf, high_pass, .. } = &mut self.filter;
        for value in [&mut shelf.latest, &mut high_pass.latest].into_iter().flatten().flatten() {
            if value.abs() < 1e-30 {
                *value = 0.0;
            }
        }
    }

    /// Weighs a stretch and returns the energies.
    pub(crate) fn process(&mut self, input: &WeightingInput) -> WeightedEnergies {
        self.arch.dispatch(Run { filter: &mut self.filter, input })
    }
}

/// The recursive half of a stage of each signal: `w[n] = x[n] − a1·w[n−1] − a2·w[n−2]`. What waits for the
/// frame before is one product and its sum.
#[derive(Clone, Copy)]
struct Poles {
    /// −a1, −a2.
    by: [Four; 2],
    /// w\[n−1\], w\[n−2\].
    latest: [Four; 2],
}

impl Poles {
    fn new(a: [f64; 2]) -> Self {
        Self { by: a.map(|a| [-a; 4]), latest: [[0.0; 4]; 2] }
    }

    #[inline(always)]
    fn process<S: Simd>(&mut self, fours: Fours<S>, x: Four) -> Four {
        let [latest, before] = self.latest;
        let w = fours.mul_add(self.by[0], latest, fours.mul_add(self.by[1], before, x));
        self.latest = [w, latest];
        w
    }
}

/// Both stages, in the direct form II, with b0 of either put off until the energies.
#[derive(Clone, Copy)]
struct Filter {
    shelf: Poles,
    /// b1/b0, b2/b0 of the shelf.
    zeros: [Four; 2],
    /// Its numerator is a second difference, which takes no products.
    high_pass: Poles,
    /// Square of both stages' b0.
    power: f64,
}

impl Filter {
    fn new(rate_hz: f64) -> Self {
        let [shelf, high_pass] = k_weighting::stages(rate_hz);
        let [b0, b1, b2] = shelf.b;
        Self {
            shelf: Poles::new(shelf.a),
            zeros: [b1, b2].map(|b| [b / b0; 4]),
            high_pass: Poles::new(high_pass.a),
            power: (b0 * high_pass.b[0]).powi(2),
        }
    }
}

/// The loop over a stretch.
struct Run<'a, 'b> {
    filter: &'a mut Filter,
    input: &'a WeightingInput<'b>,
}

impl WithSimd for Run<'_, '_> {
    type Output = WeightedEnergies;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> WeightedEnergies {
        let fours = Fours::new(simd);
        // Copies live in registers; behind the references they would go through memory every frame.
        let Filter { mut shelf, zeros, mut high_pass, power } = *self.filter;
        let WeightingInput { audible_a, audible_b, whole_a, whole_b } = self.input;
        let frames = audible_a.iter().zip(*audible_b).zip(whole_a.iter().zip(*whole_b));
        let [latest, before] = high_pass.latest;
        let mut slope = fours.sub(latest, before);
        let [mut k, mut k_sum] = [[0.0; 4]; 2];
        for ((audible_a, audible_b), (whole_a, whole_b)) in frames {
            let x = [*audible_a, *audible_b, *whole_a, *whole_b].map(f64::from);
            let [latest, before] = shelf.latest;
            let w = shelf.process(fours, x);
            let y = fours.mul_add(zeros[0], latest, fours.mul_add(zeros[1], before, w));
            let [latest, _] = high_pass.latest;
            let rise = fours.sub(high_pass.process(fours, y), latest);
            let y = fours.sub(rise, slope);
            slope = rise;
            let sum = fours.add(y, [y[1], y[0], y[3], y[2]]);
            k = fours.mul_add(y, y, k);
            k_sum = fours.mul_add(sum, sum, k_sum);
        }
        *self.filter = Filter { shelf, high_pass, ..*self.filter };
        WeightedEnergies { k: k.map(|k| k * power), k_sum: [k_sum[0], k_sum[2]].map(|k| k * power) }
    }
}

#[cfg(test)]
mod tests;
