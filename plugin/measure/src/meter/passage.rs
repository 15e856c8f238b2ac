//! Which of the steps that are on their way through the filters count.

use crate::band::STEP_FRAMES;

/// What a step that leaves the filters is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Passing {
    /// What the filters held before the stream began.
    Lead,
    /// Sound that does not count: it keeps running what looks back.
    Unread,
    /// Sound whose first frames count, as many as that.
    Read(usize),
}

/// The steps in the filters, in the order in which they leave.
pub(super) struct Passage {
    steps: Vec<Passing>,
    next: usize,
    /// Steps to come that do not count, whatever is said of them.
    unread_to_come: usize,
}

impl Passage {
    /// A passage that delays by some frames: whole steps, and at least one.
    pub(super) fn new(delay_frames: usize) -> Self {
        let steps = vec![Passing::Lead; delay_frames / STEP_FRAMES];
        Self { steps, next: 0, unread_to_come: 0 }
    }

    /// As before the stream began.
    pub(super) fn reset(&mut self) {
        self.steps.fill(Passing::Lead);
        self.unread_to_come = 0;
    }

    /// Lets nothing count that is on its way, nor the next `more` steps.
    pub(super) fn forget(&mut self, more: usize) {
        for step in &mut self.steps {
            if *step != Passing::Lead {
                *step = Passing::Unread;
            }
        }
        self.unread_to_come = self.unread_to_come.max(more);
    }

    /// Takes a step in, and says what the one that leaves is.
    pub(super) fn take(&mut self, entering: Passing) -> Passing {
        let entering = match self.unread_to_come.checked_sub(1) {
            Some(left) => {
                self.unread_to_come = left;
                Passing::Unread
            }
            None => entering,
        };
        let leaving = std::mem::replace(&mut self.steps[self.next], entering);
        self.next = (self.next + 1) % self.steps.len();
        leaving
    }

    /// How many steps are on their way.
    pub(super) fn steps(&self) -> usize {
        self.steps.len()
    }

    /// Whether the first step of the stream has yet to leave.
    pub(super) fn leads(&self) -> bool {
        self.steps[self.next] == Passing::Lead
    }
}
