//! How the channels of a pair are related, so that what is exact stays exact where both are filtered as
//! one complex signal: rounding would leave something of the one in the other.

use rustfft::num_complex::Complex32;

use crate::batch::{BATCH_FRAMES, PairBatch};

/// What is exactly so of each frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Relation {
    /// There is no a.
    NoA,
    /// There is no b.
    NoB,
    /// b = a
    Equal,
    /// b = −a
    Opposite,
}

/// Those of which one is enough, where several hold.
const ALL: [Relation; 4] = [Relation::NoA, Relation::NoB, Relation::Equal, Relation::Opposite];

impl Relation {
    /// Makes it so again.
    pub(super) fn restore(self, pair: &mut [Complex32]) {
        match self {
            Self::NoA => pair.iter_mut().for_each(|z| z.re = 0.0),
            Self::NoB => pair.iter_mut().for_each(|z| z.im = 0.0),
            Self::Equal => pair.iter_mut().for_each(|z| z.im = z.re),
            Self::Opposite => pair.iter_mut().for_each(|z| z.im = -z.re),
        }
    }
}

/// Which relations hold in a batch, in the order of [`ALL`].
pub(super) struct Related([bool; 4]);

impl Related {
    #[inline(always)]
    pub(super) fn of(batch: &PairBatch) -> Self {
        Self([
            is_nothing(batch, |a, _| a),
            is_nothing(batch, |_, b| b),
            is_nothing(batch, |a, b| a - b),
            is_nothing(batch, |a, b| a + b),
        ])
    }
}

/// Whether all is zero that is made of a and b.
#[inline(always)]
fn is_nothing(PairBatch { a, b }: &PairBatch, made: impl Fn(f32, f32) -> f32) -> bool {
    // Without the sign: there are two zeros.
    a.iter().zip(b).fold(0, |bits, (&a, &b)| bits | made(a, b).to_bits() << 1) == 0
}

/// For how many batches each relation has held.
pub(super) struct Relations([usize; 4]);

impl Relations {
    /// Before a stream.
    pub(super) fn of_silence() -> Self {
        Self([usize::MAX; 4])
    }

    pub(super) fn take(&mut self, batch: Related) {
        for (batches, holds) in self.0.iter_mut().zip(batch.0) {
            *batches = if holds { batches.saturating_add(1) } else { 0 };
        }
    }

    /// One that has held for so many frames, if there is one.
    pub(super) fn over(&self, frames: usize) -> Option<Relation> {
        let held = ALL.iter().zip(self.0).find(|(_, batches)| *batches >= frames / BATCH_FRAMES);
        held.map(|(&relation, _)| relation)
    }
}
