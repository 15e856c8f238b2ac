//! What lies over a limit, on its way through filters like the programme's and as late as that. They
//! run only while there is something in them.

use pulp::Arch;

use crate::band::{SplitBatch, Splitter};
use crate::batch::{BATCH_FRAMES, Batch, PairBatch};
use crate::damage::excess;
use crate::peak::largest_of_pair;

pub(super) struct Excess {
    splitter: Splitter,
    /// `None` where nothing can be over it, or what is cannot be worked out.
    limit: Option<f32>,
    /// How many batches each pair's filters have yet to run.
    left: Vec<usize>,
    /// Batches after which filters that are given silence hold nothing else.
    run: usize,
    /// Batches since the stream began.
    batches: u64,
    below: PairBatch,
    late: PairBatch,
}

impl Excess {
    /// By filters for as many pairs.
    pub(super) fn new(splitter: Splitter, pairs: usize) -> Self {
        Self {
            limit: Some(1.0),
            left: vec![0; pairs],
            run: splitter.empty_after_frames().div_ceil(BATCH_FRAMES),
            splitter,
            batches: 0,
            below: PairBatch::SILENCE,
            late: PairBatch::SILENCE,
        }
    }

    /// As before the stream began.
    pub(super) fn reset(&mut self) {
        self.splitter.reset();
        self.left.fill(0);
        self.batches = 0;
    }

    /// Readies it for a signal whose first frame is frame `frame`, on a batch's boundary, of a longer
    /// one.
    pub(super) fn start_at(&mut self, frame: u64) {
        self.batches = frame / BATCH_FRAMES as u64;
    }

    /// Sets the limit, and says whether it is another one: what was over the former is dropped then.
    pub(super) fn set_limit(&mut self, limit: Option<f32>) -> bool {
        let changes = limit != self.limit;
        if changes {
            self.limit = limit;
            self.splitter.reset();
            self.left.fill(0);
        }
        changes
    }

    /// Takes a batch of the pair `index`, and puts what is audible of an earlier one's excess into
    /// `audible`, which is silence where there is none.
    pub(super) fn process(
        &mut self,
        arch: Arch,
        index: usize,
        input: &PairBatch,
        audible: &mut PairBatch,
    ) {
        let Some(limit) = self.limit else { return };
        if largest_of_pair(arch, input).iter().any(|&largest| largest > limit) {
            if self.left[index] == 0 {
                self.splitter.go_on_at(index, self.batches * BATCH_FRAMES as u64);
            }
            self.left[index] = self.run;
        } else if self.left[index] == 0 {
            return;
        }
        let over = |samples: &Batch| samples.map(|sample| excess(sample, limit));
        let over = PairBatch { a: over(&input.a), b: over(&input.b) };
        let Self { below, late, .. } = self;
        self.splitter.process(
            index,
            &over,
            SplitBatch { whole: late, low_passed: audible, below },
            &mut (),
        );
        audible.a.iter_mut().zip(&below.a).for_each(|(audible, below)| *audible -= *below);
        audible.b.iter_mut().zip(&below.b).for_each(|(audible, below)| *audible -= *below);
        self.left[index] -= 1;
        if self.left[index] == 0 {
            *audible = PairBatch::SILENCE;
        }
    }

    /// All pairs have taken a batch. Says whether something may be left in any.
    pub(super) fn end_batch(&mut self) -> bool {
        self.batches += 1;
        self.left.iter().any(|&left| left > 0)
    }
}
