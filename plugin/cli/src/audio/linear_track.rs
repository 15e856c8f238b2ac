//! A stretch of linear samples in a file, handed out block by block.

use std::io::{ErrorKind, Read};

use super::error::Fault;
use super::linear::{Sample, Word, deinterleave};
use super::source::Reader;
use super::window::Window;

/// Bytes read at once, about: enough to make the system calls not count, and still in the cache.
const BLOCK_BYTES: usize = 256 << 10;

/// Interleaved linear samples, from where `reader` stands.
pub(super) struct LinearTrack<R> {
    reader: R,
    word: Word,
    channels: usize,
    /// Bytes not read yet; none: up to the end of the source.
    left_bytes: Option<u64>,
    buffer: Vec<u8>,
    window: Window,
    frames_read: u64,
}

impl<R: Read> LinearTrack<R> {
    pub(super) fn new(reader: R, word: Word, channels: usize, bytes: Option<u64>) -> Self {
        let frame = word.bytes() * channels;
        let frames = (BLOCK_BYTES / frame).clamp(1, 16_384);
        Self {
            reader,
            word,
            channels,
            left_bytes: bytes,
            buffer: vec![0; frames * frame],
            window: Window::all(),
            frames_read: 0,
        }
    }

    /// Only that part of it.
    pub(super) fn within(self, window: Window) -> Self {
        Self { window, ..self }
    }

    /// Frames handed out so far.
    pub(super) fn frames_read(&self) -> u64 {
        self.frames_read
    }

    /// Frames that are still to come, where that is known.
    pub(super) fn frames_left(&self) -> Option<u64> {
        self.left_bytes.map(|left| left / self.frame_bytes() as u64)
    }

    /// Leaves out frames, by way of `skip`, which leaves out bytes of the reader.
    pub(super) fn skip(
        &mut self,
        frames: u64,
        skip: impl FnOnce(&mut R, u64) -> std::io::Result<()>,
    ) -> Result<(), Fault> {
        let bytes = frames.saturating_mul(self.frame_bytes() as u64);
        skip(&mut self.reader, bytes).map_err(Fault::Unreadable)?;
        self.left_bytes = self.left_bytes.map(|left| left.saturating_sub(bytes));
        self.frames_read += frames;
        Ok(())
    }

    fn frame_bytes(&self) -> usize {
        self.word.bytes() * self.channels
    }

    /// The next block; false at the end. Part of a frame at the end is left out.
    pub(super) fn read<S: Sample>(&mut self, block: &mut Vec<Vec<S>>) -> Result<bool, Fault> {
        loop {
            if self.window.silent_block(self.channels, block) {
                self.frames_read += block[0].len() as u64;
                return Ok(true);
            }
            if self.window.is_past() || !self.fill_block(block)? {
                block.iter_mut().for_each(Vec::clear);
                return Ok(false);
            }
            self.window.cut(block);
            let frames = block.first().map_or(0, Vec::len);
            if frames > 0 {
                self.frames_read += frames as u64;
                return Ok(true);
            }
        }
    }

    fn fill_block<S: Sample>(&mut self, block: &mut Vec<Vec<S>>) -> Result<bool, Fault> {
        let wanted = self.left_bytes.map_or(self.buffer.len(), |left| {
            usize::try_from(left).unwrap_or(usize::MAX).min(self.buffer.len())
        });
        let got = self.fill(wanted)?;
        if let Some(left) = &mut self.left_bytes {
            *left -= got as u64;
        }
        let whole = got - got % self.frame_bytes();
        deinterleave(self.word, self.channels, &self.buffer[..whole], block);
        Ok(whole > 0)
    }

    fn fill(&mut self, wanted: usize) -> Result<usize, Fault> {
        let mut filled = 0;
        while filled < wanted {
            match self.reader.read(&mut self.buffer[filled..wanted]) {
                Ok(0) => break,
                Ok(count) => filled += count,
                Err(error) if error.kind() == ErrorKind::Interrupted => {}
                Err(error) => return Err(Fault::Unreadable(error)),
            }
        }
        Ok(filled)
    }
}

impl LinearTrack<Reader> {
    /// Whether the samples are in a file, and not in a pipe.
    pub(super) fn can_seek(&self) -> bool {
        self.reader.length().is_some()
    }
}
