//! Work in stages, one a batch, so that no block bears it all.

use std::ops::Range;

/// How far a piece of work has come, in units of its own (bins, points, passes).
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Stages {
    next: usize,
    end: usize,
}

impl Stages {
    /// Begins work of so many units from its first.
    pub(crate) fn begin(&mut self, units: usize) {
        self.begin_at(0..units);
    }

    /// Begins work on a range of units.
    pub(crate) fn begin_at(&mut self, units: Range<usize>) {
        *self = Self { next: units.start, end: units.end };
    }

    /// Leaves what is not done yet.
    pub(crate) fn stop(&mut self) {
        self.next = self.end;
    }

    /// Whether nothing is left to do.
    pub(crate) fn are_done(&self) -> bool {
        self.next >= self.end
    }

    /// The next stage, of at most so many units; they count as done from here on. Empty where nothing
    /// is left.
    pub(crate) fn take(&mut self, most: usize) -> Range<usize> {
        let first = self.next.min(self.end);
        self.next = (first + most).min(self.end);
        first..self.next
    }

    /// The next stage, of one unit.
    pub(crate) fn take_one(&mut self) -> Option<usize> {
        self.take(1).next()
    }

    /// Ends a stage early: unit `next` and what follows it are left to the next one.
    pub(crate) fn go_on_from(&mut self, next: usize) {
        self.next = next;
    }
}
