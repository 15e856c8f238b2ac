//! Where samples come in: pairs the channels up, sets aside what is no sample, and gathers batches.

use std::ops::Range;

use super::layout::{Layout, Source};
use crate::batch::{BATCH_FRAMES, PairBatch};
use crate::sample::is_sample;

pub(crate) struct Inlet {
    /// `[pair]` of a and b.
    sources: Vec<[Source; 2]>,
    batches: Vec<PairBatch>,
    filled: usize,
    invalid_frames: u64,
    /// Whether frames that hold what is no sample are counted.
    counts: bool,
}

impl Inlet {
    pub(crate) fn new(layout: &Layout) -> Self {
        let sources: Vec<_> = layout.pairs.iter().map(|pair| [pair.a, pair.b]).collect();
        let batches = vec![PairBatch::SILENCE; sources.len()];
        Self { sources, batches, filled: 0, invalid_frames: 0, counts: true }
    }

    pub(crate) fn invalid_frames(&self) -> u64 {
        self.invalid_frames
    }

    pub(crate) fn is_full(&self) -> bool {
        self.filled == BATCH_FRAMES
    }

    /// Forgets what was counted; frames that wait for their batch go on waiting.
    pub(crate) fn reset(&mut self) {
        self.invalid_frames = 0;
        self.counts = true;
    }

    /// Counts invalid frames that came before those counted so far.
    pub(crate) fn count_before(&mut self, invalid_frames: u64) {
        self.invalid_frames += invalid_frames;
    }

    /// Frames that wait for their batch.
    pub(crate) fn waiting(&self) -> usize {
        self.filled
    }

    /// Whether frames wait for their batch.
    pub(crate) fn holds_frames(&self) -> bool {
        self.filled > 0
    }

    /// Whether frames that hold what is no sample are counted from here on.
    pub(crate) fn set_counting(&mut self, counts: bool) {
        self.counts = counts;
    }

    /// Goes on where `later` stands, which began where this ends.
    pub(crate) fn append(&mut self, later: Self) {
        *self = Self { invalid_frames: self.invalid_frames + later.invalid_frames, ..later };
    }

    /// Forgets frames that wait for their batch.
    pub(crate) fn clear(&mut self) {
        self.filled = 0;
        self.batches.fill(PairBatch::SILENCE);
    }

    /// Takes frames of a block until the batch is full and says how many.
    pub(crate) fn take(
        &mut self,
        main: &[&[f32]],
        side_chain: &[&[f32]],
        frames: Range<usize>,
    ) -> usize {
        let count = frames.len().min(BATCH_FRAMES - self.filled);
        let from = frames.start..frames.start + count;
        let to = self.filled..self.filled + count;
        let mut all_valid = true;
        let channel = |source: Source| match source {
            Source::Main(index) => main.get(index),
            Source::SideChain(index) => side_chain.get(index),
            Source::Silence | Source::Absent => None,
        };
        for (&[a, b], batch) in self.sources.iter().zip(&mut self.batches) {
            all_valid &= copy_valid(channel(a), from.clone(), &mut batch.a[to.clone()]);
            all_valid &= copy_valid(channel(b), from.clone(), &mut batch.b[to.clone()]);
        }
        if !all_valid {
            let invalid = self.silence_invalid(to);
            self.invalid_frames += if self.counts { invalid } else { 0 };
        }
        self.filled += count;
        count
    }

    /// Takes the first `count` frames of a batch that has been through an inlet already, where `invalid`
    /// frames were silenced; none may be waiting.
    pub(crate) fn put(&mut self, batch: &[PairBatch], count: usize, invalid: u64) {
        self.batches.copy_from_slice(batch);
        self.filled = count;
        self.invalid_frames += if self.counts { invalid } else { 0 };
    }

    /// Silences each sample that is no level and says how many frames held one.
    fn silence_invalid(&mut self, range: Range<usize>) -> u64 {
        let mut frames = 0;
        for index in range {
            let mut found = false;
            for batch in &mut self.batches {
                for sample in [&mut batch.a[index], &mut batch.b[index]] {
                    if !is_sample(*sample) {
                        *sample = 0.0;
                        found = true;
                    }
                }
            }
            frames += u64::from(found);
        }
        frames
    }

    /// Fills the batch up with silence and says how many frames had been waiting.
    pub(crate) fn fill_with_silence(&mut self) -> usize {
        let waiting = self.filled;
        for batch in &mut self.batches {
            batch.a[waiting..].fill(0.0);
            batch.b[waiting..].fill(0.0);
        }
        self.filled = BATCH_FRAMES;
        waiting
    }

    /// The full batch, and a fresh one begins.
    pub(crate) fn take_batch(&mut self) -> &[PairBatch] {
        self.filled = 0;
        &self.batches
    }
}

/// Copies a stretch of a channel (silence where there is none) and says whether all are levels.
fn copy_valid(channel: Option<&&[f32]>, from: Range<usize>, to: &mut [f32]) -> bool {
    let Some(samples) = channel.and_then(|channel| channel.get(from)) else {
        to.fill(0.0);
        return true;
    };
    to.copy_from_slice(samples);
    samples.iter().fold(true, |valid, &sample| valid & is_sample(sample))
}
