//! Which of the batches that are on their way through the filters count.

use crate::batch::BATCH_FRAMES;

/// What a batch that leaves the filters is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Passing {
    /// What the filters held before the stream began.
    Lead,
    /// Sound that does not count: it keeps running what looks back.
    Unread,
    /// Sound whose first frames count, as many as that.
    Read(usize),
}

impl Passing {
    /// How many frames of it count, if any do.
    pub(super) fn read(self) -> Option<usize> {
        match self {
            Self::Read(count) => Some(count),
            Self::Lead | Self::Unread => None,
        }
    }
}

/// What a batch that leaves the filters is, and what it were had there been no latest reset.
#[derive(Debug, Clone, Copy)]
pub(super) struct Leaving {
    pub(super) now: Passing,
    pub(super) unreset: Passing,
}

/// The way through the filters, and the same had there been no latest reset.
pub(super) struct Passages {
    now: Passage,
    unreset: Passage,
}

impl Passages {
    /// Passages that delay by some frames: whole batches, and at least one.
    pub(super) fn new(delay_frames: usize) -> Self {
        let [now, unreset] = [(); 2].map(|()| Passage::new(delay_frames));
        Self { now, unreset }
    }

    /// As before the stream began.
    pub(super) fn reset(&mut self) {
        self.now.reset();
        self.unreset.reset();
    }

    /// Lets nothing count that is on its way, nor the next `more` batches.
    pub(super) fn forget(&mut self, more: usize) {
        self.now.forget(more);
        self.unreset.forget(more);
    }

    /// The same because of a reset, which may be taken back.
    pub(super) fn forget_by_reset(&mut self, more: usize) {
        self.unreset.follow(&self.now);
        self.now.forget(more);
    }

    /// Takes the latest reset back.
    pub(super) fn undo_reset(&mut self) {
        self.now.follow(&self.unreset);
    }

    /// Takes a batch in, and says what the one that leaves is.
    pub(super) fn take(&mut self, entering: Passing) -> Leaving {
        Leaving { now: self.now.take(entering), unreset: self.unreset.take(entering) }
    }

    /// How many batches are on their way.
    pub(super) fn batches(&self) -> usize {
        self.now.batches()
    }

    /// Whether the first batch of the stream has yet to leave.
    pub(super) fn leads(&self) -> bool {
        self.now.leads()
    }
}

/// The batches in the filters, in the order in which they leave.
struct Passage {
    batches: Vec<Passing>,
    next: usize,
    /// Batches to come that do not count, whatever is said of them.
    unread_to_come: usize,
}

impl Passage {
    /// A passage that delays by some frames: whole batches, and at least one.
    fn new(delay_frames: usize) -> Self {
        let batches = vec![Passing::Lead; delay_frames / BATCH_FRAMES];
        Self { batches, next: 0, unread_to_come: 0 }
    }

    /// As before the stream began.
    fn reset(&mut self) {
        self.batches.fill(Passing::Lead);
        self.unread_to_come = 0;
    }

    /// Becomes as `other`, which has the same delay.
    fn follow(&mut self, other: &Self) {
        self.batches.copy_from_slice(&other.batches);
        (self.next, self.unread_to_come) = (other.next, other.unread_to_come);
    }

    /// Lets nothing count that is on its way, nor the next `more` batches.
    fn forget(&mut self, more: usize) {
        for batch in &mut self.batches {
            if *batch != Passing::Lead {
                *batch = Passing::Unread;
            }
        }
        self.unread_to_come = self.unread_to_come.max(more);
    }

    /// Takes a batch in, and says what the one that leaves is.
    fn take(&mut self, entering: Passing) -> Passing {
        let entering = match self.unread_to_come.checked_sub(1) {
            Some(left) => {
                self.unread_to_come = left;
                Passing::Unread
            }
            None => entering,
        };
        let leaving = std::mem::replace(&mut self.batches[self.next], entering);
        self.next = (self.next + 1) % self.batches.len();
        leaving
    }

    /// How many batches are on their way.
    fn batches(&self) -> usize {
        self.batches.len()
    }

    /// Whether the first batch of the stream has yet to leave.
    fn leads(&self) -> bool {
        self.batches[self.next] == Passing::Lead
    }
}
