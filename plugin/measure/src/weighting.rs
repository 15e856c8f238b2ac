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
        Self {
            arch: Arch::new(),
            frames: Frames { frames: [Frame::default(); STEP_FRAMES] },
            edge,
            k,
        }
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

/// One frame on its way through the filters.
#[derive(Clone, Copy, Default)]
struct Frame {
    /// A, B, A, B.
    low_passed: [f64; 4],
    /// Audible A, audible B, below A, below B.
    split: [f64; 4],
    /// Audible A, audible B, whole A, whole B.
    weighted: [f64; 4],
    /// A, B.
    whole: [f64; 2],
}

/// The frames of a stretch. Gathered before and read after the loop over the filters, which is then
/// left with whole vectors to load and to store.
struct Frames {
    frames: [Frame; STEP_FRAMES],
}

impl Frames {
    /// Takes a stretch in and says how many frames it has.
    #[inline(always)]
    fn gather(&mut self, input: &WeightingInput) -> usize {
        let count = input.whole_a.len().min(STEP_FRAMES);
        let (whole_a, whole_b) = (&input.whole_a[..count], &input.whole_b[..count]);
        let (low_a, low_b) = (&input.low_passed_a[..count], &input.low_passed_b[..count]);
        for (i, frame) in self.frames[..count].iter_mut().enumerate() {
            let (a, b) = (f64::from(low_a[i]), f64::from(low_b[i]));
            frame.low_passed = [a, b, a, b];
            frame.whole = [f64::from(whole_a[i]), f64::from(whole_b[i])];
        }
        count
    }

    /// Writes the audible band and sums the energies.
    #[inline(always)]
    fn read(&self, count: usize, audible_a: &mut [f32], audible_b: &mut [f32]) -> WeightedEnergies {
        let (audible_a, audible_b) = (&mut audible_a[..count], &mut audible_b[..count]);
        let mut k = [0.0; 4];
        let mut split = [0.0; 4];
        let mut k_sum = [0.0; 2];
        for (i, frame) in self.frames[..count].iter().enumerate() {
            audible_a[i] = frame.split[0] as f32;
            audible_b[i] = frame.split[1] as f32;
            for lane in 0..4 {
                k[lane] += frame.weighted[lane] * frame.weighted[lane];
                split[lane] += frame.split[lane] * frame.split[lane];
            }
            let [a, b, whole_a, whole_b] = frame.weighted;
            k_sum[0] += (a + b) * (a + b);
            k_sum[1] += (whole_a + whole_b) * (whole_a + whole_b);
        }
        WeightedEnergies { k, k_sum, below: [split[2], split[3]] }
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
        let count = frames.gather(input);
        for frame in &mut frames.frames[..count] {
            let split = edge_1.step(edge_0.step(frame.low_passed));
            frame.split = split;
            frame.weighted =
                k_1.step(k_0.step([split[0], split[1], frame.whole[0], frame.whole[1]]));
        }
        *edge = [edge_0, edge_1];
        *k = [k_0, k_1];
        frames.read(count, audible_a, audible_b)
    }
}
