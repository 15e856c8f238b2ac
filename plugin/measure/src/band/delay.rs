//! A delay of whole batches.

use crate::batch::{BATCH_FRAMES, Batch};

/// Delays one channel.
pub(super) struct Delay {
    batches: Vec<Batch>,
    next: usize,
}

impl Delay {
    pub(super) fn new(batches: usize) -> Self {
        Self { batches: vec![[0.0; BATCH_FRAMES]; batches], next: 0 }
    }

    pub(super) fn reset(&mut self) {
        self.batches.fill([0.0; BATCH_FRAMES]);
        self.next = 0;
    }

    /// Takes a batch, and gives the one that came as many batches before.
    pub(super) fn process(&mut self, input: &Batch, output: &mut Batch) {
        let Some(slot) = self.batches.get_mut(self.next) else {
            *output = *input;
            return;
        };
        *output = *slot;
        *slot = *input;
        self.next += 1;
        if self.next == self.batches.len() {
            self.next = 0;
        }
    }
}
