//! EBML (RFC 8794): elements of a number, a size and a body.

use std::fs::File;
use std::io::{self, BufReader, Read, Seek, SeekFrom};

/// Elements that are known here.
pub(super) mod id {
    pub(in super::super) const SEGMENT: u32 = 0x1853_8067;
    pub(in super::super) const INFO: u32 = 0x1549_A966;
    pub(in super::super) const TIMESTAMP_SCALE: u32 = 0x2A_D7B1;
    pub(in super::super) const TRACKS: u32 = 0x1654_AE6B;
    pub(in super::super) const TRACK_ENTRY: u32 = 0xAE;
    pub(in super::super) const TRACK_NUMBER: u32 = 0xD7;
    pub(in super::super) const DEFAULT_DURATION: u32 = 0x23_E383;
    pub(in super::super) const CODEC_DELAY: u32 = 0x56AA;
    pub(in super::super) const CONTENT_ENCODINGS: u32 = 0x6D80;
    pub(in super::super) const CONTENT_ENCODING: u32 = 0x6240;
    pub(in super::super) const CONTENT_COMPRESSION: u32 = 0x5034;
    pub(in super::super) const COMPRESSION_ALGORITHM: u32 = 0x4254;
    pub(in super::super) const COMPRESSION_SETTINGS: u32 = 0x4255;
    pub(in super::super) const CLUSTER: u32 = 0x1F43_B675;
    pub(in super::super) const TIMESTAMP: u32 = 0xE7;
    pub(in super::super) const SIMPLE_BLOCK: u32 = 0xA3;
    pub(in super::super) const BLOCK_GROUP: u32 = 0xA0;
    pub(in super::super) const BLOCK: u32 = 0xA1;
    pub(in super::super) const BLOCK_DURATION: u32 = 0x9B;
    pub(in super::super) const DISCARD_PADDING: u32 = 0x75A2;
}

/// The front of an element.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Head {
    pub(super) id: u32,
    /// Bytes of the body; none where the writer did not know.
    pub(super) size: Option<u64>,
}

/// What stands at a place of a file.
pub(super) enum At {
    Element(Head),
    /// Nothing that could be one.
    Nonsense,
    End,
}

/// The elements of a file, one after another; those that hold others are entered unless skipped.
pub(super) struct Elements {
    file: BufReader<File>,
    position: u64,
    length: u64,
}

impl Elements {
    /// From the start of the file.
    pub(super) fn new(mut file: File) -> io::Result<Self> {
        let length = file.seek(SeekFrom::End(0))?;
        file.seek(SeekFrom::Start(0))?;
        Ok(Self { file: BufReader::new(file), position: 0, length })
    }

    pub(super) fn position(&self) -> u64 {
        self.position
    }

    pub(super) fn length(&self) -> u64 {
        self.length
    }

    /// The front of the next element.
    pub(super) fn next(&mut self) -> io::Result<At> {
        if self.position >= self.length {
            return Ok(At::End);
        }
        let Some((id, id_bytes)) = self.number(4, true)? else { return Ok(At::Nonsense) };
        let Some((size, size_bytes)) = self.number(8, false)? else { return Ok(At::Nonsense) };
        let unknown = (1 << (7 * size_bytes)) - 1;
        let size = (size != unknown).then_some(size);
        debug_assert!(id_bytes <= 4);
        Ok(At::Element(Head { id: id as u32, size }))
    }

    /// A number that says its own length; `marked` keeps the bit that does.
    fn number(&mut self, longest: u32, marked: bool) -> io::Result<Option<(u64, u32)>> {
        let Some(first) = self.byte()? else { return Ok(None) };
        let bytes = first.leading_zeros() + 1;
        if bytes > longest {
            return Ok(None);
        }
        let mut value =
            if marked { u64::from(first) } else { u64::from(first) & ((1 << (8 - bytes)) - 1) };
        for _ in 1..bytes {
            let Some(byte) = self.byte()? else { return Ok(None) };
            value = value << 8 | u64::from(byte);
        }
        Ok(Some((value, bytes)))
    }

    fn byte(&mut self) -> io::Result<Option<u8>> {
        let mut byte = [0];
        let there = read_whole(&mut self.file, &mut byte)?;
        self.position += u64::from(there);
        Ok(there.then_some(byte[0]))
    }

    /// The next bytes, as many as there are of them.
    pub(super) fn body(&mut self, bytes: u64) -> io::Result<Vec<u8>> {
        let mut body = Vec::new();
        (&mut self.file).take(bytes).read_to_end(&mut body)?;
        self.position += body.len() as u64;
        Ok(body)
    }

    /// Goes to a place, behind the end where it lies there.
    pub(super) fn go_to(&mut self, position: u64) -> io::Result<()> {
        let position = position.min(self.length);
        let step = i64::try_from(i128::from(position) - i128::from(self.position));
        self.file.seek_relative(step.map_err(|_| io::ErrorKind::InvalidInput)?)?;
        self.position = position;
        Ok(())
    }

    /// Goes to the next place where a cluster may begin; false where there is none.
    pub(super) fn find_cluster(&mut self) -> io::Result<bool> {
        let mut last = 0u32;
        while let Some(byte) = self.byte()? {
            last = last << 8 | u32::from(byte);
            if last == id::CLUSTER {
                self.go_to(self.position - 4)?;
                return Ok(true);
            }
        }
        Ok(false)
    }
}

fn read_whole(reader: &mut impl Read, buffer: &mut [u8]) -> io::Result<bool> {
    match reader.read_exact(buffer) {
        Ok(()) => Ok(true),
        Err(error) if error.kind() == io::ErrorKind::UnexpectedEof => Ok(false),
        Err(error) => Err(error),
    }
}

/// The elements within a body that was read; stops at the first that does not fit.
pub(super) struct Children<'a> {
    rest: &'a [u8],
}

impl<'a> Children<'a> {
    pub(super) fn of(body: &'a [u8]) -> Self {
        Self { rest: body }
    }
}

impl<'a> Iterator for Children<'a> {
    type Item = (u32, &'a [u8]);

    fn next(&mut self) -> Option<Self::Item> {
        let id_bytes = self.rest.first()?.leading_zeros() as usize + 1;
        let id = self.rest.get(..id_bytes).filter(|id| id.len() <= 4)?;
        let id = id.iter().fold(0, |id, byte| id << 8 | u32::from(*byte));
        let (size, rest) = number(&self.rest[id_bytes..])?;
        let body = rest.get(..usize::try_from(size).ok()?)?;
        self.rest = &rest[body.len()..];
        Some((id, body))
    }
}

/// The body of the first element of that kind.
pub(super) fn find(body: &[u8], wanted: u32) -> Option<&[u8]> {
    Children::of(body).find(|(id, _)| *id == wanted).map(|(_, body)| body)
}

/// A number that says its own length, and what follows it.
pub(super) fn number(bytes: &[u8]) -> Option<(u64, &[u8])> {
    let length = bytes.first()?.leading_zeros() as usize + 1;
    let number = bytes.get(..length).filter(|number| number.len() <= 8)?;
    let value = number.iter().fold(0u64, |value, byte| value << 8 | u64::from(*byte));
    let marker = 1u64 << (7 * length);
    Some((value & (marker - 1), &bytes[length..]))
}

/// A body that is a number without a sign.
pub(super) fn unsigned(body: &[u8]) -> Option<u64> {
    (body.len() <= 8).then(|| body.iter().fold(0, |value, byte| value << 8 | u64::from(*byte)))
}

/// A body that is a number with a sign.
pub(super) fn signed(body: &[u8]) -> Option<i64> {
    let unused = 64 - 8 * u32::try_from(body.len()).ok().filter(|bytes| *bytes <= 8)?;
    let value = unsigned(body)? as i64;
    Some(value.checked_shl(unused).map_or(0, |value| value >> unused))
}
