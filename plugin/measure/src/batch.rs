//! How samples move through the measures: in batches of one length, whatever the host's blocks are.

/// Frames of a batch.
pub(crate) const BATCH_FRAMES: usize = 128;

/// A bit for each frame of a batch, the lowest for the first.
pub(crate) type FrameBits = u128;

const _: () = assert!(FrameBits::BITS as usize >= BATCH_FRAMES);

/// One batch of one channel.
pub(crate) type Batch = [f32; BATCH_FRAMES];

/// One batch of a pair of channels, one of each half.
#[derive(Clone, Copy)]
pub(crate) struct PairBatch {
    pub(crate) a: Batch,
    pub(crate) b: Batch,
}

impl PairBatch {
    pub(crate) const SILENCE: Self = Self { a: [0.0; BATCH_FRAMES], b: [0.0; BATCH_FRAMES] };

    /// A + B at unity gain.
    pub(crate) fn sum(&self) -> Batch {
        std::array::from_fn(|i| self.a[i] + self.b[i])
    }
}
