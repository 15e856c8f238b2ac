//! Something slow, added to a pair of channels: what lies below the lower edge, or its opposite. The
//! waveform tops out where it did, by so much more or less.

use pulp::Arch;

use crate::batch::{BATCH_FRAMES, Batch, PairBatch};
use crate::peak::largest_of_pair;
use crate::signal::{A, B};

/// What is slow in the pairs of a bus, in the latest batch and the one before.
pub(crate) struct Shifts {
    /// `[pair]`, the latest batch being `latest`.
    pairs: Vec<[PairBatch; 2]>,
    latest: usize,
    /// `[pair]`, of each batch: the largest magnitudes of both halves.
    largest: Vec<[[f32; 2]; 2]>,
}

impl Shifts {
    pub(crate) fn new(pairs: usize) -> Self {
        let pairs = vec![[PairBatch::SILENCE; 2]; pairs];
        Self { largest: vec![[[0.0; 2]; 2]; pairs.len()], pairs, latest: 0 }
    }

    /// As before the stream began.
    pub(crate) fn reset(&mut self) {
        self.pairs.fill([PairBatch::SILENCE; 2]);
        self.largest.fill([[0.0; 2]; 2]);
    }

    /// What was the latest batch is the one before.
    pub(crate) fn begin_batch(&mut self) {
        self.latest = 1 - self.latest;
    }

    /// A pair's latest batch. When all are as they are to be, they have to be [settled](Self::settle).
    pub(crate) fn latest_mut(&mut self, pair: usize) -> &mut PairBatch {
        &mut self.pairs[pair][self.latest]
    }

    /// The latest batches of all pairs; likewise.
    pub(crate) fn all_latest_mut(&mut self) -> impl Iterator<Item = &mut PairBatch> {
        self.pairs.iter_mut().map(|batches| &mut batches[self.latest])
    }

    /// A pair's latest batch.
    pub(crate) fn latest(&self, pair: usize) -> &PairBatch {
        &self.pairs[pair][self.latest]
    }

    /// The latest batches are as they are to be.
    pub(crate) fn settle(&mut self, arch: Arch) {
        for (largest_of, pairs) in self.largest.iter_mut().zip(&self.pairs) {
            largest_of[self.latest] = largest_of_pair(arch, &pairs[self.latest]);
        }
    }

    /// What is added to a pair where that is done with so much of it: +1 or −1.
    pub(crate) fn of(&self, pair: usize, sign: f32) -> Shift<'_> {
        let (batches, [one, other]) = (&self.pairs[pair], self.largest[pair]);
        Shift {
            batches: [&batches[1 - self.latest], &batches[self.latest]],
            largest: [A, B].map(|half| f32::max(one[half], other[half])),
            sign,
        }
    }
}

/// What is added to a pair of channels, in the batch before and in the latest.
#[derive(Clone, Copy)]
pub(crate) struct Shift<'a> {
    batches: [&'a PairBatch; 2],
    largest: [f32; 2],
    /// +1 adds it, −1 takes it away.
    sign: f32,
}

impl<'a> Shift<'a> {
    /// What is added to a signal of the pair; nothing to A + B.
    #[inline(always)]
    pub(super) fn of(&self, signal: usize) -> Option<SignalShift<'a>> {
        let batches = match signal {
            A => self.batches.map(|pair| &pair.a),
            B => self.batches.map(|pair| &pair.b),
            _ => return None,
        };
        Some(SignalShift { batches, largest: self.largest[signal], sign: self.sign })
    }
}

/// What is added to one signal, in the batch before and in the latest.
#[derive(Clone, Copy)]
pub(crate) struct SignalShift<'a> {
    pub(super) batches: [&'a Batch; 2],
    /// The largest magnitude of both.
    pub(super) largest: f32,
    pub(super) sign: f32,
}

impl SignalShift<'_> {
    /// What is added at a frame, counted from the beginning of the batch before.
    #[inline(always)]
    pub(super) fn at(&self, frame: usize) -> f32 {
        self.sign * self.batches[frame / BATCH_FRAMES][frame % BATCH_FRAMES]
    }
}
