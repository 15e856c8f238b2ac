//! How the channels of a pair are related, so that what is exact stays exact where both are filtered as
//! one complex signal, and a quiet one is not lost beside a loud one: rounding leaves something of the
//! one in the other.

use rustfft::num_complex::Complex32;

use crate::batch::{BATCH_FRAMES, PairBatch};
use crate::peak::magnitude_bits;

/// Channels whose peaks differ by no more than this power of two, 48 dB, stay as they are: what is left of
/// the louder one lies 90 dB below the other.
const MOST_APART: i32 = 8;

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

/// Largest magnitudes of a batch in the order of [`ALL`]: of a, b, a − b and a + b. Where one is zero, the
/// relation holds.
pub(super) struct Largest([f32; 4]);

impl Largest {
    #[inline(always)]
    pub(super) fn of(batch: &PairBatch) -> Self {
        Self([
            largest(batch, |a, _| a),
            largest(batch, |_, b| b),
            largest(batch, |a, b| a - b),
            largest(batch, |a, b| a + b),
        ])
    }
}

/// The largest magnitude of what is made of a and b.
#[inline(always)]
fn largest(PairBatch { a, b }: &PairBatch, made: impl Fn(f32, f32) -> f32) -> f32 {
    let bits = a.iter().zip(b).fold(0, |most, (&a, &b)| u32::max(most, magnitude_bits(made(a, b))));
    f32::from_bits(bits)
}

/// How the channels have been related lately.
pub(super) struct Relations {
    /// For how many batches each relation has held.
    held: [usize; 4],
    /// The peaks of a and b in the latest batches, in a ring.
    peaks: Vec<[f32; 2]>,
    next: usize,
}

impl Relations {
    /// Before a stream, for transforms of so many frames.
    pub(super) fn of_silence(frames: usize) -> Self {
        Self { held: [usize::MAX; 4], peaks: vec![[0.0; 2]; frames / BATCH_FRAMES], next: 0 }
    }

    pub(super) fn reset(&mut self) {
        self.held = [usize::MAX; 4];
        self.peaks.fill([0.0; 2]);
    }

    pub(super) fn take(&mut self, Largest(largest): Largest) {
        for (batches, largest) in self.held.iter_mut().zip(largest) {
            *batches = if largest == 0.0 { batches.saturating_add(1) } else { 0 };
        }
        self.peaks[self.next] = [largest[0], largest[1]];
        self.next = (self.next + 1) % self.peaks.len();
    }

    /// One that has held for so many frames, if there is one.
    pub(super) fn over(&self, frames: usize) -> Option<Relation> {
        let held = ALL.iter().zip(self.held).find(|(_, batches)| *batches >= frames / BATCH_FRAMES);
        held.map(|(&relation, _)| relation)
    }

    /// The power of two that b is to be multiplied with beside a: 1 where they are about as loud, or one is
    /// silent.
    pub(super) fn scale(&self) -> f32 {
        let largest =
            |most: [f32; 2], peaks: &[f32; 2]| [most[0].max(peaks[0]), most[1].max(peaks[1])];
        let [a, b] = self.peaks.iter().fold([0.0; 2], largest);
        if a == 0.0 || b == 0.0 {
            return 1.0;
        }
        let apart = (a / b).log2().round().clamp(-100.0, 100.0) as i32;
        if apart.abs() <= MOST_APART { 1.0 } else { 2f32.powi(apart) }
    }
}
