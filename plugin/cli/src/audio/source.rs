//! Where the bytes come from: a file, or standard input.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::path::PathBuf;

use symphonia::core::io::MediaSource;

use super::error::Fault;

/// Standard input is copied to a temporary file of at most this size where the container cannot be
/// read in one pass.
pub(super) const MAX_COPY_BYTES: u64 = 16 << 30;

/// Bytes that are looked at to tell what a file is.
const HEAD_BYTES: usize = 64 << 10;

/// What to read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Input {
    /// A file.
    Path(PathBuf),
    /// Standard input, written as `-`.
    StandardInput,
}

impl Input {
    /// `-` is standard input, all else a path.
    pub fn from_argument(argument: impl Into<PathBuf>) -> Self {
        let path = argument.into();
        if path.as_os_str() == "-" { Self::StandardInput } else { Self::Path(path) }
    }

    /// The name to show.
    pub fn name(&self) -> String {
        match self {
            Self::Path(path) => path.display().to_string(),
            Self::StandardInput => "standard input".to_owned(),
        }
    }
}

/// Which track of an input, and who may decode it.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Choice {
    /// The number of the track, from 1; none: the default one, or the first that can be decoded.
    pub track: Option<u32>,
    /// The machine's `ffmpeg` is not asked for what is not decoded here.
    pub own_decoders_only: bool,
}

/// A track, or none chosen; whoever can may decode it.
impl From<Option<u32>> for Choice {
    fn from(track: Option<u32>) -> Self {
        Self { track, own_decoders_only: false }
    }
}

/// Bytes to read from the start, with a look ahead at the first of them.
pub(super) struct Source {
    bytes: Bytes,
    head: Vec<u8>,
}

enum Bytes {
    /// Can be sought in; its length.
    File(File, u64),
    /// Can be read once, after `head`.
    Stream(Box<dyn Read + Send + Sync>),
}

impl Source {
    pub(super) fn open(input: &Input) -> Result<Self, Fault> {
        match input {
            Input::Path(path) => {
                let file = File::open(path).map_err(Fault::Unreadable)?;
                let about = file.metadata().map_err(Fault::Unreadable)?;
                if about.is_dir() {
                    return Err(Fault::Folder);
                }
                if about.is_file() { Self::of_file(file) } else { Self::of_stream(Box::new(file)) }
            }
            Input::StandardInput => Self::of_stream(Box::new(io::stdin())),
        }
    }

    pub(super) fn of_file(mut file: File) -> Result<Self, Fault> {
        let length = file.seek(SeekFrom::End(0)).map_err(Fault::Unreadable)?;
        file.seek(SeekFrom::Start(0)).map_err(Fault::Unreadable)?;
        let head = read_head(&mut file).map_err(Fault::Unreadable)?;
        if head.is_empty() {
            return Err(Fault::Empty);
        }
        file.seek(SeekFrom::Start(0)).map_err(Fault::Unreadable)?;
        Ok(Self { bytes: Bytes::File(file, length), head })
    }

    pub(super) fn of_stream(mut stream: Box<dyn Read + Send + Sync>) -> Result<Self, Fault> {
        let head = read_head(&mut stream).map_err(Fault::Unreadable)?;
        if head.is_empty() {
            return Err(Fault::Empty);
        }
        Ok(Self { bytes: Bytes::Stream(stream), head })
    }

    /// The first bytes.
    pub(super) fn head(&self) -> &[u8] {
        &self.head
    }

    pub(super) fn can_seek(&self) -> bool {
        matches!(self.bytes, Bytes::File(..))
    }

    /// The file itself, at its start; standard input is copied to a temporary one.
    pub(super) fn into_file(self) -> Result<File, Fault> {
        match self.bytes {
            Bytes::File(file, _) => Ok(file),
            Bytes::Stream(stream) => copy(&self.head, stream, MAX_COPY_BYTES),
        }
    }

    /// From the first byte on.
    pub(super) fn into_reader(self) -> Reader {
        match self.bytes {
            Bytes::File(file, length) => Reader::File(file, length),
            Bytes::Stream(rest) => Reader::Stream { head: self.head, read: 0, rest },
        }
    }
}

fn read_head(source: &mut dyn Read) -> io::Result<Vec<u8>> {
    let mut head = Vec::new();
    source.take(HEAD_BYTES as u64).read_to_end(&mut head)?;
    Ok(head)
}

fn copy(head: &[u8], rest: impl Read, limit_bytes: u64) -> Result<File, Fault> {
    let mut copy = tempfile::tempfile().map_err(Fault::Unreadable)?;
    let mut all = head.chain(rest.take(limit_bytes));
    let copied = io::copy(&mut all, &mut copy).map_err(Fault::Unreadable)?;
    if copied > limit_bytes {
        return Err(Fault::TooMuchInput { limit_bytes });
    }
    copy.seek(SeekFrom::Start(0)).map_err(Fault::Unreadable)?;
    Ok(copy)
}

/// Reads a [`Source`] from its first byte on.
pub(super) enum Reader {
    /// A file and its length in bytes.
    File(File, u64),
    /// What was looked at, then the rest.
    Stream {
        /// The first bytes.
        head: Vec<u8>,
        /// How many of them were handed out.
        read: usize,
        /// What comes after them.
        rest: Box<dyn Read + Send + Sync>,
    },
}

impl Reader {
    /// What comes out of a program.
    pub(super) fn of_stream(rest: Box<dyn Read + Send + Sync>) -> Self {
        Self::Stream { head: Vec::new(), read: 0, rest }
    }

    /// A file to be read from its start to its end only.
    pub(super) fn as_pipe(mut file: File) -> Result<Self, Fault> {
        file.rewind().map_err(Fault::Unreadable)?;
        Ok(Self::of_stream(Box::new(file)))
    }

    /// Bytes in all, where that can be known.
    pub(super) fn length(&self) -> Option<u64> {
        match self {
            Self::File(_, length) => Some(*length),
            Self::Stream { .. } => None,
        }
    }

    /// Leaves out bytes; fewer where the source ends before.
    pub(super) fn skip(&mut self, bytes: u64) -> io::Result<()> {
        match self {
            Self::File(file, length) => {
                let position = file.stream_position()?.saturating_add(bytes).min(*length);
                file.seek(SeekFrom::Start(position)).map(drop)
            }
            Self::Stream { .. } => io::copy(&mut self.take(bytes), &mut io::sink()).map(drop),
        }
    }
}

impl Read for Reader {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        match self {
            Self::File(file, _) => file.read(buffer),
            Self::Stream { head, read, rest } => {
                if *read < head.len() {
                    let count = (&head[*read..]).read(buffer)?;
                    *read += count;
                    Ok(count)
                } else {
                    rest.read(buffer)
                }
            }
        }
    }
}

impl Seek for Reader {
    fn seek(&mut self, position: SeekFrom) -> io::Result<u64> {
        match self {
            Self::File(file, _) => file.seek(position),
            Self::Stream { .. } => Err(io::ErrorKind::Unsupported.into()),
        }
    }
}

impl MediaSource for Reader {
    fn is_seekable(&self) -> bool {
        matches!(self, Self::File(..))
    }

    fn byte_len(&self) -> Option<u64> {
        self.length()
    }
}
