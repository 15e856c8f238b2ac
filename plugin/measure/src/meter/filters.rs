//! The bus on its way through the band's filters, a batch at a time, and which of it counts.

use pulp::Arch;

use super::excess::Excess;
use super::inlet::Inlet;
use super::layout::Layout;
use super::passage::{Leaving, Passages, Passing};
use crate::band::{SplitBatch, Splitter, stop_edge_hz};
use crate::batch::{BATCH_FRAMES, PairBatch};
use crate::energy::{HiddenEnergies, take_apart};
use crate::laps::Laps;
use crate::settings::Edges;
use crate::true_peak::Shifts;

/// Where samples come in, the filters, and the batch that has just left them.
pub(super) struct Filters {
    arch: Arch,
    pub(super) inlet: Inlet,
    splitter: Splitter,
    excess: Excess,
    passages: Passages,
    audible_end_hz: f64,
    /// Frames of the sound that have been moved in since the last reset.
    pub(super) frames_taken: u64,
    /// Whether all frames that wait for their batch are to be read.
    waiting_count: bool,
    /// Batches in a row that came in silent.
    silent_batches: usize,
    /// Whether each pair has a second channel.
    second_channels: Vec<bool>,
    low_passed: Vec<PairBatch>,
    /// What lies below the lower edge of what has left: `[pair]`.
    pub(super) below: Shifts,
    /// What has left the filters: `[pair]`.
    pub(super) left: Left,
}

/// The batch that has left the filters, in both bands.
pub(super) struct Left {
    pub(super) whole: Vec<PairBatch>,
    pub(super) audible: Vec<PairBatch>,
    /// What is audible of what lies over the limit.
    pub(super) excess: Vec<PairBatch>,
    /// Whether there may be any, or a sample over the limit.
    pub(super) has_excess: bool,
}

impl Filters {
    pub(super) fn new(rate_hz: f64, edges: Edges, layout: &Layout) -> Self {
        let second_channels: Vec<bool> = layout.second_channels().collect();
        let [splitter, beside] = Splitter::two(rate_hz, edges, &second_channels);
        let silence = || vec![PairBatch::SILENCE; layout.pairs.len()];
        Self {
            arch: Arch::new(),
            audible_end_hz: stop_edge_hz(rate_hz, edges.high_hz()).unwrap_or(rate_hz / 2.0),
            frames_taken: 0,
            inlet: Inlet::new(layout),
            passages: Passages::new(splitter.delay_frames()),
            splitter,
            excess: Excess::new(beside, second_channels.len()),
            waiting_count: true,
            silent_batches: usize::MAX,
            second_channels,
            low_passed: silence(),
            below: Shifts::new(layout.pairs.len()),
            left: Left {
                whole: silence(),
                audible: silence(),
                excess: silence(),
                has_excess: false,
            },
        }
    }

    /// As before the stream began.
    pub(super) fn reset(&mut self) {
        self.inlet.clear();
        self.splitter.reset();
        self.excess.reset();
        self.below.reset();
        self.left.excess.fill(PairBatch::SILENCE);
        self.passages.reset();
        self.waiting_count = true;
        self.silent_batches = usize::MAX;
    }

    /// Readies fresh filters for a signal whose first frame is frame `frame`, on a batch's boundary,
    /// of a longer one.
    pub(super) fn start_at(&mut self, frame: u64) {
        self.splitter.start_at(frame);
        self.excess.start_at(frame);
        self.frames_taken = frame;
    }

    /// Goes on where `later` stands, which began where this ends.
    pub(super) fn append(&mut self, later: Self) {
        self.inlet.append(later.inlet);
        self.splitter = later.splitter;
        self.excess = later.excess;
        self.left.excess = later.left.excess;
        self.below = later.below;
        self.passages = later.passages;
        self.waiting_count = later.waiting_count;
        self.silent_batches = later.silent_batches;
        self.frames_taken = later.frames_taken;
    }

    /// Sets the limit over which there is an excess; `None` where that cannot be worked out.
    pub(super) fn set_limit(&mut self, limit: Option<f32>) {
        if self.excess.set_limit(limit) {
            self.left.excess.fill(PairBatch::SILENCE);
        }
    }

    /// Frames by which sound leaves after it has come in: a batch is gathered first.
    pub(super) fn delay_frames(&self) -> usize {
        self.splitter.delay_frames() + BATCH_FRAMES
    }

    /// Frames on either side of a frame that what leaves of it depends on.
    pub(super) fn reach_frames(&self) -> usize {
        self.splitter.reach_frames()
    }

    /// Where the audible band has ended for good, in Hz.
    pub(super) fn audible_end_hz(&self) -> f64 {
        self.audible_end_hz
    }

    /// Frames before a signal's first that the filters have to be given.
    pub(super) fn memory_frames(&self) -> usize {
        self.splitter.memory_frames()
    }

    /// How many batches are inside.
    pub(super) fn batches(&self) -> usize {
        self.passages.batches()
    }

    /// Whether the first batch of the stream has yet to leave.
    pub(super) fn lead(&self) -> bool {
        self.passages.leads()
    }

    /// Whether they hold nothing but silence.
    pub(super) fn are_silent(&self) -> bool {
        self.silent_batches > self.passages.batches() + 1 && !self.inlet.holds_frames()
    }

    /// Counts afresh from here on: nothing counts that is inside.
    pub(super) fn let_go(&mut self) {
        self.inlet.reset();
        self.frames_taken = 0;
        self.passages.forget_by_reset(usize::from(self.inlet.holds_frames()));
    }

    /// Takes the latest [`let_go`](Self::let_go) back, before which `invalid_frames` held what is no
    /// sample.
    pub(super) fn undo_let_go(&mut self, invalid_frames: u64) {
        self.inlet.count_before(invalid_frames);
        self.passages.undo_reset();
    }

    /// Lets nothing count that is inside, nor what comes until no filter joins it to that.
    pub(super) fn let_go_and_settle(&mut self) {
        // One batch more for the waveform between the samples.
        let settling = self.splitter.reach_frames().div_ceil(BATCH_FRAMES) + 1;
        self.passages.forget(settling + usize::from(self.inlet.holds_frames()));
    }

    /// What the frames of the next block are, if there are any.
    pub(super) fn announce(&mut self, counts: bool) {
        self.waiting_count &= counts;
    }

    /// Moves a batch through the filters if one is full, and says what the one is that leaves;
    /// `counts` is said of the frames that come from here on.
    pub(super) fn advance_if_full(
        &mut self,
        counts: bool,
        laps: &mut impl Laps,
    ) -> Option<Leaving> {
        if !self.inlet.is_full() {
            return None;
        }
        self.frames_taken += BATCH_FRAMES as u64;
        let reads = std::mem::replace(&mut self.waiting_count, counts);
        Some(self.advance(if reads { Passing::Read(BATCH_FRAMES) } else { Passing::Unread }, laps))
    }

    /// A block is over.
    pub(super) fn end_block(&mut self) {
        if !self.inlet.holds_frames() {
            self.waiting_count = true;
        }
    }

    /// Moves on what waits for its batch, with silence behind it, and says what leaves.
    pub(super) fn flush(&mut self) -> Option<Leaving> {
        let waiting = self.inlet.fill_with_silence();
        self.frames_taken += waiting as u64;
        let entering = if self.waiting_count { Passing::Read(waiting) } else { Passing::Unread };
        (waiting > 0).then(|| self.advance(entering, &mut ()))
    }

    /// Moves a batch of silence in, and says what leaves.
    pub(super) fn advance_by_silence(&mut self) -> Leaving {
        self.inlet.fill_with_silence();
        self.advance(Passing::Unread, &mut ())
    }

    fn advance(&mut self, entering: Passing, laps: &mut impl Laps) -> Leaving {
        let inlet = self.inlet.take_batch();
        let mut is_silent = true;
        self.below.begin_batch();
        for (pair, input) in inlet.iter().enumerate() {
            let split = SplitBatch {
                whole: &mut self.left.whole[pair],
                low_passed: &mut self.low_passed[pair],
                below: self.below.latest_mut(pair),
            };
            self.splitter.process(pair, input, split, laps);
            self.excess.process(self.arch, pair, input, &mut self.left.excess[pair]);
            is_silent &= input.a == [0.0; BATCH_FRAMES] && input.b == [0.0; BATCH_FRAMES];
        }
        self.left.has_excess = self.excess.end_batch();
        self.silent_batches = if is_silent { self.silent_batches.saturating_add(1) } else { 0 };
        self.passages.take(entering)
    }

    /// Silences the frames of what has left from `count` on, if there are any.
    pub(super) fn silence_from(&mut self, count: usize) {
        if count == BATCH_FRAMES {
            return;
        }
        let silence = |batch: &mut PairBatch| {
            batch.a[count..].fill(0.0);
            batch.b[count..].fill(0.0);
        };
        let left = self.left.whole.iter_mut().chain(&mut self.low_passed);
        left.chain(self.below.all_latest_mut()).for_each(silence);
    }

    /// Works out the audible band of what has left; `hidden` hears of pair, half and what lies
    /// outside.
    pub(super) fn take_apart(&mut self, mut hidden: impl FnMut(usize, usize, &HiddenEnergies)) {
        self.below.settle(self.arch);
        let Left { whole, audible, .. } = &mut self.left;
        for (pair, audible) in audible.iter_mut().enumerate() {
            let (whole, low_passed, below) =
                (&whole[pair], &self.low_passed[pair], self.below.latest(pair));
            let a = take_apart(self.arch, &whole.a, &low_passed.a, &below.a, &mut audible.a);
            let b = take_apart(self.arch, &whole.b, &low_passed.b, &below.b, &mut audible.b);
            hidden(pair, 0, &a);
            hidden(pair, 1, &b);
        }
    }

    /// The silence behind the last samples has left.
    pub(super) fn silence_what_left(&mut self) {
        self.low_passed.fill(PairBatch::SILENCE);
        self.below.begin_batch();
        self.below.all_latest_mut().for_each(|batch| *batch = PairBatch::SILENCE);
        self.below.settle(self.arch);
        self.left.whole.fill(PairBatch::SILENCE);
        self.left.audible.fill(PairBatch::SILENCE);
    }

    /// Whether each pair has a second channel.
    pub(super) fn second_channels(&self) -> impl Iterator<Item = bool> {
        self.second_channels.iter().copied()
    }
}
