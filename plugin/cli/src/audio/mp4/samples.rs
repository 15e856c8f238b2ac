//! The samples of one track: how many, how long, how large and where.
//!
//! A sample of the standard is what a decoder takes at once. Runs of equal entries stay runs here,
//! so that memory follows the bytes that the file really spends on its tables.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::sync::Arc;

use symphonia::core::packet::Packet;
use symphonia::core::units::{Duration, Timestamp};

use super::atoms::{be_u32, be_u64, find};

/// A sample larger than this is not sound.
const MAX_SAMPLE_BYTES: u32 = 16 << 20;

/// The tables of a track.
#[derive(Debug, Clone, Default)]
pub(super) struct Tables {
    /// `stts`: so many samples of so many ticks.
    times: Arc<[(u32, u32)]>,
    sizes: Sizes,
    /// `stsc`: from this chunk on, counted from 1, so many samples a chunk.
    runs: Arc<[(u32, u32)]>,
    /// `stco` or `co64`: where each chunk is.
    offsets: Arc<[u64]>,
}

/// `stsz`.
#[derive(Debug, Clone, Default)]
enum Sizes {
    #[default]
    None,
    /// So many samples of one size.
    Equal {
        count: u32,
        bytes: u32,
    },
    Each(Arc<[u32]>),
}

impl Tables {
    pub(super) fn parse(stbl: &[u8]) -> Self {
        let offsets = match find(stbl, b"co64") {
            Some(body) => list(body, 8).filter_map(|entry| be_u64(entry, 0)).collect(),
            None => list(find(stbl, b"stco").unwrap_or_default(), 4)
                .filter_map(|entry| be_u32(entry, 0).map(u64::from))
                .collect(),
        };
        let pairs = |name, bytes| -> Arc<[(u32, u32)]> {
            list(find(stbl, name).unwrap_or_default(), bytes)
                .filter_map(|entry| Some((be_u32(entry, 0)?, be_u32(entry, 4)?)))
                .collect()
        };
        let sizes = find(stbl, b"stsz").map(sizes).unwrap_or_default();
        Self { times: pairs(b"stts", 8), sizes, runs: pairs(b"stsc", 12), offsets }
    }

    /// Ticks of all samples together.
    pub(super) fn total_ticks(&self) -> u64 {
        let ticks = |(count, ticks): &(u32, u32)| u64::from(*count) * u64::from(*ticks);
        self.times.iter().map(ticks).fold(0, u64::saturating_add)
    }

    fn size(&self, sample: u32) -> Option<u32> {
        match &self.sizes {
            Sizes::None => None,
            Sizes::Equal { count, bytes } => (sample < *count).then_some(*bytes),
            Sizes::Each(sizes) => sizes.get(sample as usize).copied(),
        }
    }
}

fn sizes(stsz: &[u8]) -> Sizes {
    let count = be_u32(stsz, 8).unwrap_or(0);
    match be_u32(stsz, 4) {
        Some(0) => Sizes::Each(
            stsz.get(12..)
                .unwrap_or_default()
                .chunks_exact(4)
                .take(count as usize)
                .filter_map(|entry| be_u32(entry, 0))
                .collect(),
        ),
        Some(bytes) => Sizes::Equal { count, bytes },
        None => Sizes::None,
    }
}

/// Entries of a table: as many as it states, but no more than are there.
fn list(body: &[u8], bytes: usize) -> impl Iterator<Item = &[u8]> {
    let count = be_u32(body, 4).unwrap_or(0) as usize;
    body.get(8..).unwrap_or_default().chunks_exact(bytes).take(count)
}

/// Goes through the chunks: where each is and how many samples it holds.
#[derive(Debug, Default)]
struct Chunks {
    next: usize,
    run: usize,
}

impl Chunks {
    fn next(&mut self, tables: &Tables) -> Option<(u64, u32)> {
        let offset = *tables.offsets.get(self.next)?;
        let number = u32::try_from(self.next + 1).ok()?;
        while tables.runs.get(self.run + 1).is_some_and(|(first, _)| *first <= number) {
            self.run += 1;
        }
        self.next += 1;
        Some((offset, tables.runs.get(self.run)?.1))
    }
}

/// Reads the samples of a track in order.
pub(in crate::audio) struct Samples {
    file: File,
    tables: Tables,
    track: u32,
    chunks: Chunks,
    /// Samples that the present chunk still holds, and where the next of them is.
    in_chunk: (u32, u64),
    sample: u32,
    /// The entry of `times` and how many of its samples are past.
    time: (usize, u32),
    ticks: u64,
    /// Bytes of the file that no sample has taken yet, where samples do not overlap.
    left_bytes: u64,
}

impl Samples {
    pub(super) fn new(file: File, tables: Tables, track: u32) -> Self {
        let left_bytes = file.metadata().map_or(u64::MAX, |about| about.len());
        Self {
            file,
            tables,
            track,
            chunks: Chunks::default(),
            in_chunk: (0, 0),
            sample: 0,
            time: (0, 0),
            ticks: 0,
            left_bytes,
        }
    }

    /// The next sample; none behind the last.
    ///
    /// # Errors
    ///
    /// When it cannot be read; `UnexpectedEof` where the file ends before it does.
    pub(in crate::audio) fn next(&mut self) -> io::Result<Option<Packet>> {
        let Some(size) = self.tables.size(self.sample) else { return Ok(None) };
        while self.in_chunk.0 == 0 {
            match self.chunks.next(&self.tables) {
                Some((offset, count)) => self.in_chunk = (count, offset),
                None => return Ok(None),
            }
        }
        let offset = self.in_chunk.1;
        self.in_chunk = (self.in_chunk.0 - 1, offset.saturating_add(u64::from(size)));
        self.sample += 1;
        let length = self.tick();
        let start = self.ticks;
        self.ticks = start.saturating_add(u64::from(length));
        let data = self.bytes(offset, size)?;
        let start = Timestamp::new(i64::try_from(start).unwrap_or(i64::MAX));
        Ok(Some(Packet::new(self.track, start, Duration::new(u64::from(length)), data)))
    }

    /// Length of the next sample, in ticks; as the one before where the table ends too soon.
    fn tick(&mut self) -> u32 {
        while let Some((count, ticks)) = self.tables.times.get(self.time.0) {
            if self.time.1 < *count {
                self.time.1 += 1;
                return *ticks;
            }
            self.time = (self.time.0 + 1, 0);
        }
        self.tables.times.last().map_or(0, |last| last.1)
    }

    fn bytes(&mut self, offset: u64, size: u32) -> io::Result<Vec<u8>> {
        if size > MAX_SAMPLE_BYTES {
            // Too large for sound: an empty packet, which no decoder takes, stands for it.
            return Ok(Vec::new());
        }
        // Tables that put more samples into the file than it holds would be read without end.
        let left = self.left_bytes.checked_sub(u64::from(size));
        self.left_bytes = left.ok_or(io::ErrorKind::UnexpectedEof)?;
        self.file.seek(SeekFrom::Start(offset))?;
        let mut data = Vec::new();
        (&mut self.file).take(u64::from(size)).read_to_end(&mut data)?;
        if data.len() < size as usize {
            return Err(io::ErrorKind::UnexpectedEof.into());
        }
        Ok(data)
    }
}

/// The bytes of a track, chunk after chunk, for samples that are one frame each.
pub(in crate::audio) struct Extents {
    file: File,
    chunks: std::vec::IntoIter<(u64, u64)>,
    left: u64,
}

impl Extents {
    pub(super) fn new(file: File, tables: &Tables, frame_bytes: u64) -> Self {
        let mut chunks = Chunks::default();
        let mut extents: Vec<(u64, u64)> = Vec::new();
        // Chunks do not overlap, and all of them lie within the file.
        let mut left_bytes = file.metadata().map_or(u64::MAX, |about| about.len());
        let mut left = match &tables.sizes {
            Sizes::Equal { count, .. } => u64::from(*count),
            _ => tables.times.iter().map(|(count, _)| u64::from(*count)).sum(),
        };
        while let Some((offset, count)) = chunks.next(tables) {
            let frames = u64::from(count).min(left);
            left -= frames;
            let bytes = frames * frame_bytes;
            extents.push((offset, bytes));
            match left_bytes.checked_sub(bytes) {
                Some(left) => left_bytes = left,
                None => break,
            }
        }
        Self { file, chunks: extents.into_iter(), left: 0 }
    }

    /// Bytes that are still to come, by the tables.
    pub(in crate::audio) fn bytes(&self) -> u64 {
        self.chunks
            .as_slice()
            .iter()
            .map(|(_, bytes)| bytes)
            .fold(self.left, |sum, bytes| sum.saturating_add(*bytes))
    }
}

impl Read for Extents {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        while self.left == 0 {
            let Some((offset, bytes)) = self.chunks.next() else { return Ok(0) };
            self.file.seek(SeekFrom::Start(offset))?;
            self.left = bytes;
        }
        let wanted = usize::try_from(self.left).unwrap_or(usize::MAX).min(buffer.len());
        let count = self.file.read(&mut buffer[..wanted])?;
        if count == 0 {
            // The file ends within the chunk, so whatever follows is not there either.
            self.left = 0;
            self.chunks = Vec::new().into_iter();
        }
        self.left -= count as u64;
        Ok(count)
    }
}
