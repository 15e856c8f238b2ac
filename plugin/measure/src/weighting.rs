//! The recursive filters of one pair of channels: the lower edge of the audible band, what lies
//! below it, and K-weighting of both bands.
//!
//! Four signals run side by side through the same steps, so that a processor with vectors of four
//! doubles does them at once: first high-pass A, high-pass B, low-pass A, low-pass B; then audible A,
//! audible B, whole A, whole B.

use pulp::{Arch, NullaryFnOnce};

use crate::band::STEP_FRAMES;
use crate::biquad::{Lanes, butterworth4};
use crate::k_weighting;

/// Energies that the filters leave, summed over frames.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct WeightedEnergies {
    /// K-weighted: audible A, audible B, whole A, whole B.
    pub(crate) k: [f64; 4],
    /// K-weighted A + B: audible, whole.
    pub(crate) k_sum: [f64; 2],
    /// Below the lower edge, DC included: A, B.
    pub(crate) below: [f64; 2],
}

impl std::ops::AddAssign for WeightedEnergies {
    fn add_assign(&mut self, other: Self) {
        let add = |held: &mut [f64], other: &[f64]| {
            held.iter_mut().zip(other).for_each(|(held, energy)| *held += energy);
        };
        add(&mut self.k, &other.k);
        add(&mut self.k_sum, &other.k_sum);
        add(&mut self.below, &other.below);
    }
}

/// One stretch of a pair of channels, `[frame]` each, all of one length, a step at most.
pub(crate) struct WeightingInput<'a> {
    pub(crate) whole_a: &'a [f32],
    pub(crate) whole_b: &'a [f32],
    /// Below the upper edge.
    pub(crate) low_passed_a: &'a [f32],
    pub(crate) low_passed_b: &'a [f32],
}

pub(crate) struct Weighting {
    arch: Arch,
    frames: Frames,
    edge: [Lanes; 2],
    k: [Lanes; 2],
}

impl Weighting {
    pub(crate) fn new(rate_hz: f64, lower_edge_hz: f64) -> Self {
        let edge = butterworth4(rate_hz, lower_edge_hz)
            .map(|(high, low)| Lanes::new([high, high, low, low]));
        let k = k_weighting::stages(rate_hz).map(|stage| Lanes::new([stage; 4]));
        Self { arch: Arch::new(), frames: Frames::default(), edge, k }
    }

    pub(crate) fn reset(&mut self) {
        self.edge.iter_mut().chain(&mut self.k).for_each(Lanes::reset);
    }

    /// Drops what has decayed below any meaning, before it becomes denormal and slow.
    pub(crate) fn settle(&mut self) {
        self.edge.iter_mut().chain(&mut self.k).for_each(Lanes::settle);
    }

    /// Filters a stretch, writes its audible band, and returns the energies.
    pub(crate) fn process(
        &mut self,
        input: &WeightingInput,
        audible_a: &mut [f32],
        audible_b: &mut [f32],
    ) -> WeightedEnergies {
        let Self { arch, frames, edge, k } = self;
        arch.dispatch(Run { frames, edge, k, input, audible_a, audible_b })
    }
}

/// The samples of a stretch as the filters take them: gathered first, so that the loop over the
/// filters loads whole vectors.
struct Frames {
    /// A, B, A, B.
    low_passed: [[f64; 4]; STEP_FRAMES],
    /// A, B.
    whole: [[f64; 2]; STEP_FRAMES],
    count: usize,
}

impl Default for Frames {
    fn default() -> Self {
        Self { low_passed: [[0.0; 4]; STEP_FRAMES], whole: [[0.0; 2]; STEP_FRAMES], count: 0 }
    }
}

impl Frames {
    #[inline(always)]
    fn gather(&mut self, input: &WeightingInput) {
        self.count = input.whole_a.len().min(STEP_FRAMES);
        let low_passed = input.low_passed_a.iter().zip(input.low_passed_b);
        for (frame, (&a, &b)) in self.low_passed.iter_mut().zip(low_passed) {
            let (a, b) = (f64::from(a), f64::from(b));
            *frame = [a, b, a, b];
        }
        let whole = input.whole_a.iter().zip(input.whole_b);
        for (frame, (&a, &b)) in self.whole.iter_mut().zip(whole) {
            *frame = [f64::from(a), f64::from(b)];
        }
    }

    #[inline(always)]
    fn iter(&self) -> impl Iterator<Item = (&[f64; 4], &[f64; 2])> {
        self.low_passed.iter().zip(&self.whole).take(self.count)
    }
}

/// The loop over a stretch, as a type: what a closure holds would not be inlined where the wider
/// vectors are switched on.
struct Run<'a, 'b> {
    frames: &'a mut Frames,
    edge: &'a mut [Lanes; 2],
    k: &'a mut [Lanes; 2],
    input: &'a WeightingInput<'b>,
    audible_a: &'a mut [f32],
    audible_b: &'a mut [f32],
}

impl NullaryFnOnce for Run<'_, '_> {
    type Output = WeightedEnergies;

    #[inline(always)]
    fn call(self) -> WeightedEnergies {
        let Self { frames, edge, k, input, audible_a, audible_b } = self;
        // Copies live in registers; behind the references they would go through memory every frame.
        let [mut edge_0, mut edge_1] = *edge;
        let [mut k_0, mut k_1] = *k;
        let mut squares = [0.0; 4];
        let mut sum_squares = [0.0; 2];
        let mut below_squares = [0.0; 2];
        frames.gather(input);
        let audible = audible_a.iter_mut().zip(audible_b);
        for ((low_passed, whole), (audible_a, audible_b)) in frames.iter().zip(audible) {
            let split = edge_1.step(edge_0.step(*low_passed));
            *audible_a = split[0] as f32;
            *audible_b = split[1] as f32;
            let y = k_1.step(k_0.step([split[0], split[1], whole[0], whole[1]]));
            for i in 0..4 {
                squares[i] += y[i] * y[i];
            }
            let sums = [y[0] + y[1], y[2] + y[3]];
            for i in 0..2 {
                sum_squares[i] += sums[i] * sums[i];
                below_squares[i] += split[2 + i] * split[2 + i];
            }
        }
        *edge = [edge_0, edge_1];
        *k = [k_0, k_1];
        WeightedEnergies { k: squares, k_sum: sum_squares, below: below_squares }
    }
}
