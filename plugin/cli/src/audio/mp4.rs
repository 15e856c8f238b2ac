//! ISO base media files (MP4, M4A, MOV): where a track's samples lie, and which part of it is heard.
//!
//! The library parses sample descriptions and decodes, but knows no edit lists and reads every
//! track to get at one. What it leaves out is read here, after ISO/IEC 14496-12: the tables of one
//! track's samples, so that the pictures of a film are never read, and its edit list, in which
//! encoders state their delay.

mod atoms;
mod edits;
mod fragments;
mod outermost;
mod samples;

use std::fs::File;
use std::io::{self, Seek, SeekFrom};

use super::silence;
use super::window::Window;
use atoms::{Atoms, be_u32, find};
pub(super) use fragments::can_be as fragments_can_be;
use outermost::Outermost;
use samples::Tables;
pub(super) use samples::{Extents, Samples};

/// The `moov` atom holds tables, not sound. A larger one is refused.
const MAX_MOVIE_BYTES: u64 = 512 << 20;

/// What the `moov` atom says.
#[derive(Debug, Default)]
pub(super) struct Movie {
    pub(super) tracks: Vec<Track>,
    /// The samples stand in fragments behind the `moov` atom.
    pub(super) fragmented: bool,
}

/// One track.
#[derive(Debug)]
pub(super) struct Track {
    pub(super) id: u32,
    /// It is sound, by its handler.
    pub(super) is_audio: bool,
    /// The four letters of its sample description.
    pub(super) entry: String,
    /// Three letters of ISO 639-2.
    pub(super) language: Option<String>,
    /// Ticks a second of its own clock.
    pub(super) clock_hz: u32,
    /// What is heard of it, in its own clock's ticks.
    pub(super) window: Window,
    /// Ticks of all samples together.
    pub(super) total_ticks: u64,
    /// Linear samples stand with their lowest byte first: QuickTime's `enda` says so.
    pub(super) little_endian: bool,
    tables: Tables,
}

impl Track {
    /// What is heard of it, in frames.
    pub(super) fn window_in_frames(&self, rate_hz: u32) -> Window {
        let mut window = self.window.scaled(u64::from(rate_hz), u64::from(self.clock_hz));
        if rate_hz > silence::MOST_RATE_HZ {
            window.limit_silence(0);
        }
        window
    }

    /// Without the silence before it where that is longer than a file of this size can ask for.
    fn at_most_after(mut self, silence_s: u64) -> Self {
        self.window.limit_silence(silence_s.saturating_mul(u64::from(self.clock_hz)));
        self
    }

    /// Its samples, one after another.
    pub(super) fn samples(&self, file: File) -> Samples {
        Samples::new(file, self.tables.clone(), self.id)
    }

    /// Its bytes as one stretch, for samples that are each one frame of so many bytes.
    pub(super) fn extents(&self, file: File, frame_bytes: u64) -> Extents {
        Extents::new(file, &self.tables, frame_bytes)
    }
}

impl Movie {
    /// Reads the `moov` atom; none where there is none that makes sense.
    ///
    /// # Errors
    ///
    /// When the file cannot be read.
    pub(super) fn read(file: &mut File) -> io::Result<Option<Self>> {
        let Some(moov) = load(file)? else { return Ok(None) };
        let most_silence_s = silence::most_s(file.seek(SeekFrom::End(0))?);
        let mut movie = Self::default();
        let movie_hz = find(&moov, b"mvhd").and_then(header_clock).unwrap_or(0);
        let smpb = edits::gapless_comment(&moov);
        for (kind, body) in Atoms::of(&moov) {
            match kind {
                b"trak" => {
                    let track = track(body, movie_hz, smpb.as_ref());
                    movie.tracks.extend(track.map(|track| track.at_most_after(most_silence_s)));
                }
                b"mvex" => movie.fragmented = true,
                _ => {}
            }
        }
        Ok(Some(movie))
    }
}

/// Finds the `moov` atom among the file's outermost atoms.
fn load(file: &mut File) -> io::Result<Option<Vec<u8>>> {
    let mut outermost = Outermost::of(file)?;
    while let Some((kind, body)) = outermost.next()? {
        if &kind == b"moov" {
            return outermost.read(body, MAX_MOVIE_BYTES);
        }
    }
    Ok(None)
}

/// Ticks a second, in `mvhd` and `mdhd` alike: behind two times of 32 or 64 bits.
fn header_clock(body: &[u8]) -> Option<u32> {
    be_u32(body, if body.first() == Some(&1) { 20 } else { 12 })
}

/// Three times five bits behind the duration, each a letter counted from 1; "und" is none.
fn language(mdhd: &[u8]) -> Option<String> {
    let at = if mdhd.first() == Some(&1) { 32 } else { 20 };
    let packed = u16::from_be_bytes(*mdhd.get(at..)?.first_chunk()?);
    let letter = |shift: u16| char::from(0x60 + ((packed >> shift) & 0x1F) as u8);
    let name = String::from_iter([letter(10), letter(5), letter(0)]);
    (name != "und" && name.chars().all(|letter| letter.is_ascii_lowercase())).then_some(name)
}

fn track(trak: &[u8], movie_hz: u32, smpb: Option<&edits::Gapless>) -> Option<Track> {
    let tkhd = find(trak, b"tkhd")?;
    let id = be_u32(tkhd, if tkhd.first() == Some(&1) { 20 } else { 12 })?;
    let mdia = find(trak, b"mdia")?;
    let mdhd = find(mdia, b"mdhd");
    let clock_hz = mdhd.and_then(header_clock).filter(|hz| *hz > 0)?;
    let is_audio = find(mdia, b"hdlr").and_then(|body| body.get(8..12)) == Some(b"soun");
    let stbl = find(find(mdia, b"minf")?, b"stbl")?;
    let stsd = find(stbl, b"stsd").unwrap_or_default();
    let entry = stsd.get(12..16).unwrap_or_default();
    let tables = Tables::parse(stbl);
    let total_ticks = tables.total_ticks();
    let window = find(trak, b"edts")
        .and_then(|edts| find(edts, b"elst"))
        .and_then(|elst| edits::window(elst, movie_hz, clock_hz, total_ticks))
        .or_else(|| smpb.filter(|_| is_audio).map(edits::Gapless::window))
        .unwrap_or_else(Window::all);
    Some(Track {
        id,
        is_audio,
        entry: entry.iter().map(|byte| char::from(*byte)).collect::<String>().trim().to_owned(),
        language: mdhd.and_then(language),
        clock_hz,
        window,
        total_ticks,
        little_endian: little_endian(stsd),
        tables,
    })
}

/// `enda` stands at a depth that depends on the version of the description; its name stands nowhere
/// else in one.
fn little_endian(stsd: &[u8]) -> bool {
    let at = stsd.windows(4).position(|name| name == b"enda");
    at.and_then(|at| stsd.get(at + 4..at + 6)) == Some(&[0, 1])
}
