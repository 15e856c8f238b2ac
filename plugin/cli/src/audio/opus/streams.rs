//! The decoder of Opus itself, a translation of the reference decoder, behind a safe face.
#![allow(unsafe_code, reason = "the decoder is called with raw pointers")]

use std::ptr::NonNull;

use unsafe_libopus::{
    OPUS_OK, OpusMSDecoder, opus_multistream_decode_float, opus_multistream_decoder_create,
    opus_multistream_decoder_destroy,
};

use super::{Head, MOST_FRAMES, RATE_HZ};

/// Every stream of a track.
pub(super) struct Streams {
    decoder: NonNull<OpusMSDecoder>,
    channels: usize,
}

// SAFETY: the decoder holds no reference to a thread and no shared state: nothing but what was
// allocated for it.
unsafe impl Send for Streams {}
// SAFETY: through a shared reference nothing of it can be reached.
unsafe impl Sync for Streams {}

impl Streams {
    /// None where the header asks for streams or channels that cannot be.
    pub(super) fn new(head: &Head) -> Option<Self> {
        let channels = head.mapping.len();
        let count = i32::try_from(channels).ok()?;
        let mut error = 0;
        // SAFETY: `mapping` has `count` bytes, which the callee copies; it checks all numbers.
        let decoder = unsafe {
            opus_multistream_decoder_create(
                RATE_HZ as i32,
                count,
                i32::from(head.streams),
                i32::from(head.coupled),
                head.mapping.as_ptr(),
                &raw mut error,
            )
        };
        if error != OPUS_OK {
            return None;
        }
        Some(Self { decoder: NonNull::new(decoder)?, channels })
    }

    /// Decodes a packet into `frames`, interleaved; how many frames there are. None where it is
    /// damaged. `frames` must take the longest packet.
    pub(super) fn decode(&mut self, packet: &[u8], frames: &mut [f32]) -> Option<usize> {
        assert!(frames.len() >= MOST_FRAMES * self.channels, "room for the longest packet");
        // An empty packet would ask the decoder to make up what was lost.
        let length = i32::try_from(packet.len()).ok().filter(|length| *length > 0)?;
        // SAFETY: the decoder lives as long as this; `packet` has `length` bytes, and `frames` room
        // for `MOST_FRAMES` frames of as many channels as it was made for, as asserted above.
        let count = unsafe {
            opus_multistream_decode_float(
                self.decoder.as_ptr(),
                packet.as_ptr(),
                length,
                frames.as_mut_ptr(),
                MOST_FRAMES as i32,
                0,
            )
        };
        usize::try_from(count).ok().filter(|count| (1..=MOST_FRAMES).contains(count))
    }
}

impl Drop for Streams {
    fn drop(&mut self) {
        // SAFETY: it was made by the counterpart of this function and is not used again.
        unsafe { opus_multistream_decoder_destroy(self.decoder.as_ptr()) };
    }
}
