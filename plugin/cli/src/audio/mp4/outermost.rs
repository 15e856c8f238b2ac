//! The outermost atoms of a file, of which most are passed over unread.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::ops::Range;

use super::atoms::be_u64;

/// Goes through them.
pub(super) struct Outermost<'a> {
    file: &'a mut File,
    position: u64,
    length: u64,
}

impl<'a> Outermost<'a> {
    pub(super) fn of(file: &'a mut File) -> io::Result<Self> {
        let length = file.seek(SeekFrom::End(0))?;
        Ok(Self { file, position: 0, length })
    }

    /// Bytes of the file.
    pub(super) fn length(&self) -> u64 {
        self.length
    }

    /// The next atom and where its body lies; none at the end, or where there is no atom.
    pub(super) fn next(&mut self) -> io::Result<Option<([u8; 4], Range<u64>)>> {
        let (start, length) = (self.position, self.length);
        if start.saturating_add(8) > length {
            return Ok(None);
        }
        self.file.seek(SeekFrom::Start(start))?;
        let mut head = [0; 16];
        self.file.read_exact(&mut head[..8])?;
        let mut head_bytes = 8;
        let mut size = u64::from(u32::from_be_bytes([head[0], head[1], head[2], head[3]]));
        if size == 1 {
            if start + 16 > length {
                return Ok(None);
            }
            self.file.read_exact(&mut head[8..])?;
            head_bytes = 16;
            size = be_u64(&head, 8).unwrap_or(0);
        } else if size == 0 {
            size = length - start;
        }
        if size < head_bytes {
            return Ok(None);
        }
        self.position = start.saturating_add(size);
        let body = start + head_bytes..self.position.min(length);
        Ok(Some(([head[4], head[5], head[6], head[7]], body)))
    }

    /// A body, unless it is larger than that.
    pub(super) fn read(&mut self, body: Range<u64>, most: u64) -> io::Result<Option<Vec<u8>>> {
        let bytes = body.end.saturating_sub(body.start);
        if bytes > most {
            return Ok(None);
        }
        self.file.seek(SeekFrom::Start(body.start))?;
        let mut read = Vec::new();
        (&mut *self.file).take(bytes).read_to_end(&mut read)?;
        Ok(Some(read))
    }
}
