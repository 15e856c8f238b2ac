//! A delay of whole batches.

/// Delays the batches of a channel or of a pair.
pub(super) struct Delay<B> {
    batches: Vec<B>,
    next: usize,
}

impl<B: Copy> Delay<B> {
    /// With silence inside.
    pub(super) fn new(batches: usize, silence: B) -> Self {
        Self { batches: vec![silence; batches], next: 0 }
    }

    pub(super) fn reset(&mut self, silence: B) {
        self.batches.fill(silence);
        self.next = 0;
    }

    /// Takes a batch, and gives the one that came as many batches before.
    pub(super) fn process(&mut self, input: &B) -> B {
        let Some(slot) = self.batches.get_mut(self.next) else { return *input };
        let output = std::mem::replace(slot, *input);
        self.next += 1;
        if self.next == self.batches.len() {
            self.next = 0;
        }
        output
    }
}
