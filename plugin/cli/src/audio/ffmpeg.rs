//! The machine's own `ffmpeg`, asked for what is not decoded here.
//!
//! It is run without a shell, gets the file by its absolute path behind `file:`, so that no name is
//! taken for an option or an address, may open nothing but files and pipes, and of containers only
//! those that lead to no other file. Its sound comes through a pipe as 64-bit floats, with rate and
//! loudspeakers in the header of a WAVE file, and is measured while it comes. It is ended when it
//! gives nothing for a minute, when it gives more than a file of that size can hold, and when nobody
//! reads on.

mod listing;
mod program;
mod run;

use std::fs;
use std::path::Path;

use super::error::Fault;
use super::linear_track::LinearTrack;
use super::open::{About, check_channels};
use super::silence;
use super::source::{Choice, Reader};
use super::wave::{self, Coding};
use super::{Body, FileInfo};
use listing::Listing;
pub(super) use run::Report;
use run::Run;

/// A file that is decoded by `ffmpeg`.
pub(super) struct Opened {
    pub(super) info: FileInfo,
    pub(super) body: Body,
}

/// Why it was not asked, or cannot do it.
#[derive(Debug)]
pub(super) enum Refusal {
    /// There is none on this machine.
    Missing,
    /// It needs a file, and this is a pipe.
    Pipe,
    /// It was asked and failed; in its words.
    Failed(String),
}

/// Opens a file.
///
/// # Errors
///
/// When there is no `ffmpeg`, or it cannot do it either.
pub(super) fn open(path: &Path, name: &str, choice: Choice) -> Result<Opened, Refusal> {
    let program = program::find().ok_or(Refusal::Missing)?;
    let failed = |error: std::io::Error| Refusal::Failed(error.to_string());
    let about = fs::metadata(path).map_err(failed)?;
    if !about.is_file() {
        return Err(Refusal::Pipe);
    }
    let told = run::list(&program, path).map_err(failed)?;
    let listing = Listing::parse(&told);
    let Some(stream) = listing.choose(choice.track) else {
        return Err(Refusal::Failed("it finds no such track".to_owned()));
    };
    let (run, report) = Run::start(&program, path, stream).map_err(failed)?;
    let mut reader = Reader::of_stream(Box::new(run));
    let header = wave::read(&mut reader).map_err(|_| Refusal::Failed(report.first_words()))?;
    let format = header.format;
    let Coding::Linear(word) = format.coding else {
        return Err(Refusal::Failed("it gives another format than asked for".to_owned()));
    };
    let refused = |fault: Fault| Refusal::Failed(fault.to_string());
    check_channels(format.channels).map_err(refused)?;
    let frame_bytes = (word.bytes() * format.channels) as u64;
    let second_bytes = frame_bytes.saturating_mul(u64::from(format.rate_hz));
    report.limit(silence::most_s(about.len()).saturating_mul(second_bytes));
    let info = About {
        name,
        container: listing.container(),
        codec: stream.codec(),
        rate_hz: format.rate_hz,
        roles: format.roles,
        frames: None,
        duration_s: listing.duration_s,
    }
    .of_tracks(&stream.track(), listing.tracks());
    let decoder = format!("ffmpeg {}", listing.version);
    let track = LinearTrack::new(reader, word, format.channels, None);
    Ok(Opened { info: FileInfo { decoder, ..info }, body: Body::Ffmpeg(track, report) })
}
