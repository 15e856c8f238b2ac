//! How samples move through the measures: in batches of one length, whatever the host's blocks are.

/// Frames of a batch.
pub(crate) const BATCH_FRAMES: usize = 64;

/// One batch of one channel.
pub(crate) type Batch = [f32; BATCH_FRAMES];
