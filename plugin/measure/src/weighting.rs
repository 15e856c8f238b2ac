//! K-weighting of one pair of channels in both bands.
//!
//! Four signals run side by side through the same batches, so that a processor with vectors of four
//! doubles does them at once: audible A, audible B, whole A, whole B.

use pulp::{Arch, NullaryFnOnce};

use crate::batch::BATCH_FRAMES;
use crate::biquad::Lanes;
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

/// One stretch of a pair of channels, `[frame]` each, all of one length, a batch at most.
pub(crate) struct WeightingInput<'a> {
    pub(crate) audible_a: &'a [f32],
    pub(crate) audible_b: &'a [f32],
    pub(crate) whole_a: &'a [f32],
    pub(crate) whole_b: &'a [f32],
}

#[derive(Clone)]
pub(crate) struct Weighting {
    arch: Arch,
    frames: Frames,
    stages: [Lanes; 2],
}

impl Weighting {
    pub(crate) fn new(rate_hz: f64) -> Self {
        Self {
            arch: Arch::new(),
            frames: Frames { frames: [[0.0; 4]; BATCH_FRAMES] },
            stages: k_weighting::stages(rate_hz).map(|stage| Lanes::new([stage; 4])),
        }
    }

    pub(crate) fn reset(&mut self) {
        self.stages.iter_mut().for_each(Lanes::reset);
    }

    /// Drops what has decayed below any meaning, before it becomes denormal and slow.
    pub(crate) fn settle(&mut self) {
        self.stages.iter_mut().for_each(Lanes::settle);
    }

    /// Weighs a stretch and returns the energies.
    pub(crate) fn process(&mut self, input: &WeightingInput) -> WeightedEnergies {
        let Self { arch, frames, stages } = self;
        arch.dispatch(Run { frames, stages, input })
    }
}

/// The frames of a stretch: audible A, audible B, whole A, whole B. Gathered before the loop over the
/// filters, which is then left with whole vectors to load.
#[derive(Clone)]
struct Frames {
    frames: [[f64; 4]; BATCH_FRAMES],
}

impl Frames {
    /// Takes a stretch in and says how many frames it has.
    #[inline(always)]
    fn gather(&mut self, input: &WeightingInput) -> usize {
        let count = input.whole_a.len().min(BATCH_FRAMES);
        let (audible_a, audible_b) = (&input.audible_a[..count], &input.audible_b[..count]);
        let (whole_a, whole_b) = (&input.whole_a[..count], &input.whole_b[..count]);
        for (i, frame) in self.frames[..count].iter_mut().enumerate() {
            *frame = [audible_a[i], audible_b[i], whole_a[i], whole_b[i]].map(f64::from);
        }
        count
    }
}

/// The loop over a stretch, as a type: what a closure holds would not be inlined where the wider
/// vectors are switched on.
struct Run<'a, 'b> {
    frames: &'a mut Frames,
    stages: &'a mut [Lanes; 2],
    input: &'a WeightingInput<'b>,
}

impl NullaryFnOnce for Run<'_, '_> {
    type Output = WeightedEnergies;

    #[inline(always)]
    fn call(self) -> WeightedEnergies {
        let Self { frames, stages, input } = self;
        // Copies live in registers; behind the references they would go through memory every frame.
        let [mut shelf, mut high_pass] = *stages;
        let count = frames.gather(input);
        let mut k = [0.0; 4];
        let mut k_sum = [0.0; 4];
        for frame in &frames.frames[..count] {
            let x = high_pass.process(shelf.process(*frame));
            let sum = [x[0] + x[1], x[1] + x[0], x[2] + x[3], x[3] + x[2]];
            for i in 0..4 {
                k[i] += x[i] * x[i];
                k_sum[i] += sum[i] * sum[i];
            }
        }
        *stages = [shelf, high_pass];
        WeightedEnergies { k, k_sum: [k_sum[0], k_sum[2]] }
    }
}

#[cfg(test)]
mod tests;
