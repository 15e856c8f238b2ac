//! A CAF file that ends within its samples, made readable.
//!
//! The library's reader goes past the samples to whatever stands behind them, and refuses a file
//! that has no such place. Here the size of the data chunk is replaced on the fly by what is there.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};

use symphonia::core::io::MediaSource;

/// `caff`, version and flags.
const FILE_HEAD_BYTES: u64 = 8;
/// A name of four letters and a size of 64 bits.
const CHUNK_HEAD_BYTES: u64 = 12;

/// The file, with another size of its data chunk.
pub(super) struct CutCaf {
    file: File,
    length: u64,
    position: u64,
    /// Where the size stands, and what is read there.
    size_at: u64,
    size: [u8; 8],
}

impl CutCaf {
    /// None where no data chunk passes the end of the file.
    ///
    /// # Errors
    ///
    /// When the file cannot be read.
    pub(super) fn new(mut file: File) -> io::Result<Option<Self>> {
        let length = file.seek(SeekFrom::End(0))?;
        let mut at = FILE_HEAD_BYTES;
        while at + CHUNK_HEAD_BYTES <= length {
            let mut head = [0; 12];
            file.seek(SeekFrom::Start(at))?;
            file.read_exact(&mut head)?;
            let [.., s0, s1, s2, s3, s4, s5, s6, s7] = head;
            let size = i64::from_be_bytes([s0, s1, s2, s3, s4, s5, s6, s7]);
            let body = at + CHUNK_HEAD_BYTES;
            let end = body.saturating_add_signed(size.max(0));
            if &head[..4] == b"data" && end > length {
                file.seek(SeekFrom::Start(0))?;
                let size = (length - body).to_be_bytes();
                return Ok(Some(Self { file, length, position: 0, size_at: at + 4, size }));
            }
            at = end;
        }
        Ok(None)
    }
}

impl Read for CutCaf {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.file.read(buffer)?;
        let read = self.position..self.position + count as u64;
        for (at, byte) in (self.size_at..).zip(self.size) {
            if read.contains(&at) {
                buffer[(at - read.start) as usize] = byte;
            }
        }
        self.position = read.end;
        Ok(count)
    }
}

impl Seek for CutCaf {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.position = self.file.seek(to)?;
        Ok(self.position)
    }
}

impl MediaSource for CutCaf {
    fn is_seekable(&self) -> bool {
        true
    }

    fn byte_len(&self) -> Option<u64> {
        Some(self.length)
    }
}
