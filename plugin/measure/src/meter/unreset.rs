//! What was measured before a reset, and runs on for a while as if there had been none, so that the
//! reset can be undone.
//!
//! Two sets of readings are made, then, from what leaves the same filters. Each has its own hops and
//! transforms, since a reset begins them anew; so nothing has to be joined, and what is read after an
//! undo is exactly what would be read without the reset.

use super::measured::Measured;

pub(super) struct Unreset {
    measured: Measured,
    /// Frames before the reset that held what is no sample.
    invalid_frames: u64,
    /// How many frames a reset can be undone for, and for how many the latest can be.
    frames: u64,
    frames_left: u64,
}

impl Unreset {
    /// Readies `measured`, which is fresh, for resets that can be undone until `frames` have been
    /// taken.
    pub(super) fn new(measured: Measured, frames: u64) -> Self {
        Self { measured, invalid_frames: 0, frames, frames_left: 0 }
    }

    /// Takes over what is `measured`, in whose place another begins.
    pub(super) fn begin(&mut self, measured: &mut Measured, invalid_frames: u64) {
        std::mem::swap(&mut self.measured, measured);
        measured.begin_beside(&self.measured);
        self.invalid_frames = invalid_frames;
        self.frames_left = self.frames;
    }

    /// Gives back what was measured, in the place of what has been `measured` since the reset, and says
    /// how many frames before that held what is no sample; `None` where it is too late.
    pub(super) fn undo(&mut self, measured: &mut Measured) -> Option<u64> {
        if self.frames_left == 0 {
            return None;
        }
        self.frames_left = 0;
        std::mem::swap(&mut self.measured, measured);
        measured.follow_rows_of(&self.measured);
        Some(self.invalid_frames)
    }

    /// Lets frames pass.
    pub(super) fn let_pass(&mut self, frames: usize) {
        self.frames_left = self.frames_left.saturating_sub(frames as u64);
    }

    /// The reset cannot be undone any more.
    pub(super) fn forget(&mut self) {
        self.frames_left = 0;
    }

    /// What runs on, while the reset can be undone.
    pub(super) fn running(&mut self) -> Option<&mut Measured> {
        (self.frames_left > 0).then_some(&mut self.measured)
    }

    /// Changes how is measured, whether it runs or not.
    pub(super) fn change(&mut self, change: impl FnOnce(&mut Measured)) {
        change(&mut self.measured);
    }
}
