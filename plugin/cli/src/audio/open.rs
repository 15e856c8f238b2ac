//! From a source to the first sample: which reader, which track, what is told about it.

use std::fs::File;

use ledgerline_measure::ChannelRole;
use symphonia::core::codecs::audio::AudioCodecParameters;
use symphonia::core::codecs::audio::well_known::*;

use super::codec::Codec;
use super::coded::CodedTrack;
use super::container::{Chosen, Container};
use super::error::Fault;
use super::info::{FileInfo, TrackInfo};
use super::kind::Kind;
use super::linear::Word;
use super::linear_track::LinearTrack;
use super::packets::Packets;
use super::source::Source;
use super::wave::{self, Coding};
use super::window::Window;
use super::{Body, mp4, roles};

/// A file, ready to read.
pub(super) struct Opened {
    pub(super) info: FileInfo,
    pub(super) body: Body,
    pub(super) warnings: Vec<String>,
}

pub(super) fn open(source: Source, name: &str, track: Option<u32>) -> Result<Opened, Fault> {
    let kind = Kind::of(source.head());
    match kind {
        Kind::Unread(what) => Err(Fault::UnknownContainer(what)),
        Kind::Wave => open_wave(source, name, track),
        Kind::Mp4 => {
            let head = source.head().to_vec();
            open_mp4(source.into_file()?, &head, name, track)
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
    let Coding::Linear(word) = format.coding else {
        return Err(Fault::BadHeader("its format chunk comes too late".to_owned()));
    };
    let codec = Codec::linear(format.bits, word.is_float());
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

fn open_coded(source: Source, kind: Kind, name: &str, track: Option<u32>) -> Result<Opened, Fault> {
    let head = source.head().to_vec();
    let container = if kind.needs_seeking(&head) && !source.can_seek() {
        let reader = Source::of_file(source.into_file()?)?.into_reader();
        Container::open(Box::new(reader), kind, &head)?
    } else {
        Container::open(Box::new(source.into_reader()), kind, &head)?
    };
    let chosen = container.choose(track)?;
    let window = stated_window(&chosen);
    finish(container, chosen, window, None, name)
}

fn open_mp4(file: File, head: &[u8], name: &str, track: Option<u32>) -> Result<Opened, Fault> {
    let again = file.try_clone().map_err(Fault::Unreadable)?;
    let container = Container::open_mp4(file, head)?;
    let chosen = container.choose(track)?;
    let fragmented = container.movie.as_ref().is_none_or(|movie| movie.fragmented);
    let Some(track) = container.movie_track(chosen.track.id).filter(|_| !fragmented) else {
        return finish(container, chosen, Window::all(), None, name);
    };
    if let Some(word) = linear_word(&chosen.params) {
        let word = word.in_quicktime(&track.entry, track.little_endian);
        return open_linear_mp4(&container, &chosen, track, word, again, name);
    }
    let packets = Packets::Mp4(track.samples(again));
    let rate_hz = chosen.params.sample_rate.unwrap_or(track.clock_hz);
    let window = track.window_in_frames(rate_hz);
    finish(container, chosen, window, Some(packets), name)
}

fn open_linear_mp4(
    container: &Container,
    chosen: &Chosen,
    track: &mp4::Track,
    word: Word,
    file: File,
    name: &str,
) -> Result<Opened, Fault> {
    let channels = chosen.params.channels.as_ref().ok_or(Fault::NoChannels)?;
    let count = channels.count();
    if count == 0 {
        return Err(Fault::NoChannels);
    }
    let frame_bytes = (word.bytes() * count) as u64;
    let extents = track.extents(file, frame_bytes);
    let frames = extents.bytes() / frame_bytes;
    let rate_hz = chosen.params.sample_rate.filter(|hz| *hz > 0).ok_or(Fault::NoRate)?;
    let about = About {
        name,
        container: container.format.clone(),
        codec: Codec::of(&chosen.params),
        rate_hz,
        roles: roles::of_channels(channels),
        frames: Some(frames),
        duration_s: Some(frames as f64 / f64::from(rate_hz)),
    };
    let info = about.of_tracks(&chosen.info, container.tracks());
    let body = Body::LinearMp4(LinearTrack::new(extents, word, count, None));
    Ok(Opened { info, body, warnings: Vec::new() })
}

/// The word of a linear codec that is read here.
fn linear_word(params: &AudioCodecParameters) -> Option<Word> {
    let integer = |bytes, big_endian| Some(Word::Integer { bytes, big_endian });
    let float = |bytes, big_endian| Some(Word::Float { bytes, big_endian });
    match params.codec {
        CODEC_ID_PCM_U8 => Some(Word::U8),
        CODEC_ID_PCM_S8 => Some(Word::I8),
        CODEC_ID_PCM_S16LE => integer(2, false),
        CODEC_ID_PCM_S16BE => integer(2, true),
        CODEC_ID_PCM_S24LE => integer(3, false),
        CODEC_ID_PCM_S24BE => integer(3, true),
        CODEC_ID_PCM_S32LE => integer(4, false),
        CODEC_ID_PCM_S32BE => integer(4, true),
        CODEC_ID_PCM_F32LE => float(4, false),
        CODEC_ID_PCM_F32BE => float(4, true),
        CODEC_ID_PCM_F64LE => float(8, false),
        CODEC_ID_PCM_F64BE => float(8, true),
        _ => None,
    }
}

/// Delay and length where the container states them and neither its reader nor the decoder takes
/// them out: CAF.
fn stated_window(chosen: &Chosen) -> Window {
    let trimmed_by_decoder =
        matches!(chosen.params.codec, CODEC_ID_MP1 | CODEC_ID_MP2 | CODEC_ID_MP3 | CODEC_ID_VORBIS);
    if trimmed_by_decoder || chosen.track.delay.is_none() && chosen.track.padding.is_none() {
        return Window::all();
    }
    let start = u64::from(chosen.track.delay.unwrap_or(0));
    let frames = chosen.track.num_frames.unwrap_or(u64::MAX);
    Window::one(start, frames)
}

fn finish(
    container: Container,
    chosen: Chosen,
    window: Window,
    packets: Option<Packets>,
    name: &str,
) -> Result<Opened, Fault> {
    let tracks = container.tracks();
    let Chosen { track, params, decoder, info } = chosen;
    let short = container.reader.format_info().short_name;
    let exact_times = packets.is_none() && matches!(short, "flac" | "ogg");
    let movie_ticks =
        container.movie_track(track.id).map(|movie| (movie.total_ticks, movie.clock_hz));
    let estimated_s = track.time_base.zip(track.duration).map(|(clock, ticks)| {
        ticks.get() as f64 * f64::from(clock.numer.get()) / f64::from(clock.denom.get())
    });
    let media = container.reader.media_info();
    let media_s = media.time_base.zip(media.duration).map(|(clock, ticks)| {
        ticks.get() as f64 * f64::from(clock.numer.get()) / f64::from(clock.denom.get())
    });
    let is_mp4 = packets.is_some();
    let packets = packets.unwrap_or_else(|| Packets::of_library(container.reader, track.id));
    let body = CodedTrack::new(packets, decoder, track.time_base, window, exact_times)?;
    let rate_hz = body.spec().rate();
    let frames = match movie_ticks {
        Some((ticks, clock_hz)) if is_mp4 && clock_hz > 0 => {
            let total = u128::from(ticks) * u128::from(rate_hz) / u128::from(clock_hz);
            Some(body.window().frames(u64::try_from(total).unwrap_or(u64::MAX)))
        }
        _ => promised_frames(short, &track, &params),
    };
    let duration_s =
        frames
            .map(|frames| frames as f64 / f64::from(rate_hz))
            .or([estimated_s, media_s].into_iter().flatten().find(|duration_s| *duration_s > 0.0));
    let about = About {
        name,
        container: container.format,
        codec: Codec::of(&params),
        rate_hz,
        roles: roles::of_channels(body.spec().channels()),
        frames,
        duration_s,
    };
    let info = about.of_tracks(&info, tracks);
    Ok(Opened { info, body: Body::Coded(Box::new(body)), warnings: Vec::new() })
}

/// What the header promises, where it is a promise and not the reader's estimate.
fn promised_frames(
    format: &str,
    track: &symphonia::core::formats::Track,
    params: &AudioCodecParameters,
) -> Option<u64> {
    let stated = match format {
        "mp1" | "mp2" | "mp3" => track.delay.is_some(),
        "ogg" => track.start_ts.get() == 0,
        "flac" | "caf" | "aiff" => true,
        "wave" => !matches!(params.codec, CODEC_ID_MP3 | CODEC_ID_MP2),
        _ => false,
    };
    track.num_frames.filter(|_| stated)
}

/// What is told about a file.
struct About<'a> {
    name: &'a str,
    container: String,
    codec: Codec,
    rate_hz: u32,
    roles: Vec<ChannelRole>,
    frames: Option<u64>,
    duration_s: Option<f64>,
}

impl About<'_> {
    /// For a container that holds one track and no more.
    fn only_track(self, asked: Option<u32>) -> Result<FileInfo, Fault> {
        let track = TrackInfo {
            number: 1,
            codec: self.codec.name.clone(),
            channels: self.roles.len(),
            sample_rate_hz: self.rate_hz,
            language: None,
            readable: true,
        };
        match asked {
            Some(asked) if asked != 1 => Err(Fault::NoSuchTrack { asked, tracks: vec![track] }),
            _ => Ok(self.of_tracks(&track.clone(), vec![track])),
        }
    }

    fn of_tracks(self, track: &TrackInfo, mut tracks: Vec<TrackInfo>) -> FileInfo {
        // The decoder knows better than the container.
        if let Some(listed) = tracks.iter_mut().find(|listed| listed.number == track.number) {
            listed.channels = self.roles.len();
            listed.sample_rate_hz = self.rate_hz;
        }
        FileInfo {
            path: self.name.to_owned(),
            format: self.container,
            codec: self.codec.name,
            sample_rate_hz: self.rate_hz,
            channels: self.roles.len(),
            roles: self.roles,
            bits: self.codec.bits,
            float: self.codec.float,
            lossy: self.codec.lossy,
            frames: self.frames,
            duration_s: self.duration_s,
            track: track.number,
            tracks,
        }
    }
}
