//! A delay of whole steps.

use super::{STEP_FRAMES, Step};

/// Delays one channel.
pub(super) struct Delay {
    steps: Vec<Step>,
    next: usize,
}

impl Delay {
    pub(super) fn new(steps: usize) -> Self {
        Self { steps: vec![[0.0; STEP_FRAMES]; steps], next: 0 }
    }

    pub(super) fn reset(&mut self) {
        self.steps.fill([0.0; STEP_FRAMES]);
        self.next = 0;
    }

    /// Takes a step, and gives the one that came as many steps before.
    pub(super) fn step(&mut self, input: &Step, output: &mut Step) {
        let Some(slot) = self.steps.get_mut(self.next) else {
            *output = *input;
            return;
        };
        *output = *slot;
        *slot = *input;
        self.next += 1;
        if self.next == self.steps.len() {
            self.next = 0;
        }
    }
}
