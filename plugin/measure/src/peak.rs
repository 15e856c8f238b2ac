//! Sample peaks and overs.

use pulp::{Arch, NullaryFnOnce};

use crate::batch::{FrameBits, PairBatch};

/// The largest magnitude of some values; 0 if there are none.
///
/// Compared by their bits, which are in the order of the magnitudes: of whole numbers the compiler knows that
/// it may compare them in any order, several at a time. No NaN comes here.
#[inline(always)]
pub(crate) fn largest_of(values: &[f32]) -> f32 {
    let mut held = 0;
    for value in values {
        held = u32::max(held, magnitude_bits(*value));
    }
    f32::from_bits(held)
}

/// The largest magnitudes of both channels of a pair.
pub(crate) fn largest_of_pair(arch: Arch, pair: &PairBatch) -> [f32; 2] {
    arch.dispatch(LargestOfPair(pair))
}

struct LargestOfPair<'a>(&'a PairBatch);

impl NullaryFnOnce for LargestOfPair<'_> {
    type Output = [f32; 2];

    #[inline(always)]
    fn call(self) -> [f32; 2] {
        [largest_of(&self.0.a), largest_of(&self.0.b)]
    }
}

/// The bits of a value without its sign.
#[inline(always)]
pub(crate) fn magnitude_bits(value: f32) -> u32 {
    value.to_bits() & !(1 << 31)
}

#[inline(always)]
fn raise(held: &mut f32, sample: f32) {
    let magnitude = sample.abs();
    // Not `f32::max`: its treatment of NaN takes three instructions, and no NaN comes here.
    *held = if magnitude > *held { magnitude } else { *held };
}

/// Raises each value of `held` to the magnitude of the sample beside it.
pub(crate) fn raise_to_magnitudes(held: &mut [f32], samples: &[f32]) {
    for (held, &sample) in held.iter_mut().zip(samples) {
        raise(held, sample);
    }
}

/// Counts runs of samples of one channel at or over full scale.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Overs {
    pub(crate) count: u64,
    inside: bool,
}

impl Overs {
    /// Goes on where `later` stands, which began where this ends, with the run that was open there.
    pub(crate) fn append(&mut self, later: Self) {
        *self = Self { count: self.count + later.count, ..later };
    }

    /// Takes a stretch without a sample at or over full scale.
    pub(crate) fn take_none(&mut self) {
        self.inside = false;
    }

    /// Takes a stretch and says at which of its frames a run begins.
    pub(crate) fn take(&mut self, samples: &[f32], full_scale: f32) -> FrameBits {
        let mut begun = 0;
        for (index, sample) in samples.iter().enumerate() {
            let over = sample.abs() >= full_scale;
            if over && !self.inside {
                self.count += 1;
                begun |= 1 << index;
            }
            self.inside = over;
        }
        begun
    }
}

#[cfg(test)]
mod tests;
