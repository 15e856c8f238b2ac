//! From a source to the first sample: which reader, which track, what is told about it.

mod about;
mod finish;
mod library;
mod mp4;
mod mp4_linear;

use super::Body;
use super::codec::Codec;
use super::coded::Ending;
use super::error::Fault;
use super::info::FileInfo;
use super::kind::Kind;
use super::linear_track::LinearTrack;
use super::source::Source;
use super::wave::{self, Coding};
pub(super) use about::{About, check_channels};
use library::Request;

/// A file, ready to read.
pub(super) struct Opened {
    pub(super) info: FileInfo,
    pub(super) body: Body,
    pub(super) warnings: Vec<String>,
}

pub(super) fn open(source: Source, name: &str, track: Option<u32>) -> Result<Opened, Fault> {
    let kind = Kind::of(source.head());
    match kind {
        Kind::Unread(what) => Err(Fault::UnknownContainer { what, holds_sound: true }),
        Kind::Foreign(what) => Err(Fault::UnknownContainer { what, holds_sound: false }),
        Kind::Wave => open_wave(source, name, track),
        Kind::Mp4 => {
            let head = source.head().to_vec();
            mp4::open(source.into_file()?, &head, name, track)
        }
        Kind::Marked | Kind::Unmarked => open_coded(source, kind, name, track),
    }
}

fn open_wave(source: Source, name: &str, track: Option<u32>) -> Result<Opened, Fault> {
    let head = source.head().to_vec();
    // A coded WAVE file goes to the library, from its first byte; a pipe has to be copied for that.
    if let Some(tag) = wave::coded_tag(&head) {
        let file = source.into_file()?;
        return open_coded_wave(Source::of_file(file)?, tag, name, track);
    }
    let mut reader = source.into_reader();
    let header = wave::read(&mut reader)?;
    let format = header.format;
    check_channels(format.channels)?;
    let Coding::Linear(word) = format.coding else {
        return Err(Fault::BadHeader("its format chunk comes too late".to_owned()));
    };
    let codec = Codec::of_words(word, format.bits);
    let frame_bytes = (word.bytes() * format.channels) as u64;
    let about = About {
        name,
        container: header.container.to_owned(),
        codec,
        rate_hz: format.rate_hz,
        roles: format.roles,
        frames: header.promised_bytes.map(|bytes| bytes / frame_bytes),
        duration_s: header
            .available_bytes
            .map(|bytes| (bytes / frame_bytes) as f64 / f64::from(format.rate_hz)),
    };
    let info = about.only_track(track)?;
    let body = LinearTrack::new(reader, word, format.channels, header.available_bytes);
    Ok(Opened { info, body: Body::Linear(body), warnings: header.warnings })
}

fn open_coded_wave(
    source: Source,
    tag: u16,
    name: &str,
    track: Option<u32>,
) -> Result<Opened, Fault> {
    let unknown = || Fault::UnknownCodec { codec: wave::tag_name(tag), tracks: Vec::new() };
    if !source.head().starts_with(b"RIFF") || !wave::tag_is_decoded(tag) {
        return Err(unknown());
    }
    open_coded(source, Kind::Wave, name, track)
}

/// Opens what the library parses.
fn open_coded(source: Source, kind: Kind, name: &str, track: Option<u32>) -> Result<Opened, Fault> {
    let head = source.head().to_vec();
    let request = Request { kind, head: &head, name, track, window: None };
    if !source.can_seek() && !kind.needs_seeking(&head) {
        return request.open(source.into_reader(), Ending::Told, None);
    }
    request.open_whole_or_cut(source.into_file()?)
}
