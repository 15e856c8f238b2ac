//! Containers that the library parses: opening them, and choosing an audio track.

use std::fs::File;

use ledgerline_measure::channel::MOST_CHANNELS;
use symphonia::core::codecs::CodecParameters;
use symphonia::core::codecs::audio::well_known::CODEC_ID_OPUS;
use symphonia::core::codecs::audio::{
    AudioCodecParameters, AudioDecoder, AudioDecoderOptions, CODEC_ID_NULL_AUDIO,
};
use symphonia::core::errors::Error;
use symphonia::core::formats::probe::{Probe, ProbeOptions};
use symphonia::core::formats::{FormatOptions, FormatReader, Track, TrackFlags, TrackType};
use symphonia::core::io::{MediaSource, MediaSourceStream};
use symphonia::core::meta::MetadataOptions;
use symphonia::default::formats::{AdtsReader, FlacReader, MpaReader};
use symphonia::default::meta::{ApeReader, Id3v1Reader, Id3v2Reader};

use super::codec::{Codec, MAX_PACKET_FRAMES, is_he_aac};
use super::contain::contain;
use super::error::Fault;
use super::info::TrackInfo;
use super::kind::Kind;
use super::mp4::{Movie, fragments_can_be};
use super::opus::OpusDecoder;

/// Where no marker says what a file is, the first frame must come within so many bytes.
const MAX_SEARCH_BYTES: u32 = 64 << 10;

/// A container, parsed up to its first packet.
pub(super) struct Container {
    pub(super) reader: Box<dyn FormatReader>,
    pub(super) movie: Option<Movie>,
    /// Short word for the user.
    pub(super) format: String,
}

/// An audio track that can be decoded.
pub(super) struct Chosen {
    pub(super) track: Track,
    pub(super) params: AudioCodecParameters,
    pub(super) decoder: Box<dyn AudioDecoder>,
    pub(super) info: TrackInfo,
}

impl Container {
    /// Parses what `source` holds, which is of that kind.
    pub(super) fn open(
        source: Box<dyn MediaSource>,
        kind: Kind,
        head: &[u8],
    ) -> Result<Self, Fault> {
        let stream = MediaSourceStream::new(source, Default::default());
        let format_options = FormatOptions::default();
        let metadata_options = MetadataOptions::default();
        let probed = contain(|| {
            let hint = Default::default();
            let unmarked = (kind == Kind::Unmarked).then(probe_for_frames);
            let probe = unmarked.as_ref().unwrap_or(symphonia::default::get_probe());
            probe.probe(&hint, stream, format_options, metadata_options)
        });
        let reader = match probed {
            Ok(Ok(reader)) => reader,
            Ok(Err(_)) if kind == Kind::Unmarked => return Err(Fault::NotAudio),
            Ok(Err(error)) => return Err(Fault::BadHeader(reason(&error))),
            Err(_) => return Err(Fault::BadHeader("it contradicts itself".to_owned())),
        };
        let format = name(reader.format_info().short_name, head);
        Ok(Self { reader, movie: None, format })
    }

    /// The same for a file of ISO base media, with what the library leaves out.
    pub(super) fn open_mp4(mut file: File, head: &[u8]) -> Result<Self, Fault> {
        let again = file.try_clone().map_err(Fault::Unreadable)?;
        let movie = Movie::read(&mut file).map_err(Fault::Unreadable)?;
        if !fragments_can_be(&mut file).map_err(Fault::Unreadable)? {
            let what = "a fragment promises more samples than the file can hold";
            return Err(Fault::BadHeader(what.to_owned()));
        }
        std::io::Seek::rewind(&mut file).map_err(Fault::Unreadable)?;
        let container = Self::open(Box::new(again), Kind::Mp4, head)?;
        Ok(Self { movie, ..container })
    }

    /// Every audio track, numbered from 1.
    pub(super) fn tracks(&self) -> Vec<TrackInfo> {
        self.audio_tracks().enumerate().map(|(index, track)| self.describe(index, track)).collect()
    }

    /// The track of that number; else the default one, or the first that can be decoded.
    pub(super) fn choose(&self, number: Option<u32>) -> Result<Chosen, Fault> {
        let tracks = self.tracks();
        if tracks.is_empty() {
            return Err(Fault::NoAudioTrack(self.format.clone()));
        }
        let index = match number {
            Some(asked) => match tracks.iter().position(|track| track.number == asked) {
                Some(index) => index,
                None => return Err(Fault::NoSuchTrack { asked, tracks }),
            },
            None => self.preferred(&tracks),
        };
        let info = tracks[index].clone();
        if info.channels > MOST_CHANNELS {
            return Err(Fault::TooManyChannels { count: info.channels, most: MOST_CHANNELS });
        }
        let track = self.audio_tracks().nth(index).cloned();
        let decodable = track.and_then(|track| {
            let params = params(&track)?.clone();
            let decoder = decoder(&params)?;
            Some((track, params, decoder))
        });
        match decodable {
            Some((track, params, decoder)) => Ok(Chosen { track, params, decoder, info }),
            None => Err(Fault::UnknownCodec { codec: info.codec, tracks }),
        }
    }

    fn preferred(&self, tracks: &[TrackInfo]) -> usize {
        let marked = self
            .audio_tracks()
            .zip(tracks)
            .position(|(track, info)| info.readable && track.flags.contains(TrackFlags::DEFAULT));
        marked.or_else(|| tracks.iter().position(|track| track.readable)).unwrap_or(0)
    }

    fn audio_tracks(&self) -> impl Iterator<Item = &Track> {
        self.reader.tracks().iter().filter(|track| match track.track_type() {
            Some(kind) => kind == TrackType::Audio,
            // The library does not know the codec; in MP4 the handler tells that it is sound.
            None => self.movie_track(track.id).is_some_and(|track| track.is_audio),
        })
    }

    pub(super) fn movie_track(&self, id: u32) -> Option<&super::mp4::Track> {
        self.movie.as_ref()?.tracks.iter().find(|track| track.id == id)
    }

    fn describe(&self, index: usize, track: &Track) -> TrackInfo {
        let params = params(track);
        let known = params.filter(|params| params.codec != CODEC_ID_NULL_AUDIO);
        let codec = match (known, self.movie_track(track.id)) {
            (Some(params), _) => Codec::of(params).name,
            (None, Some(track)) => entry_name(&track.entry),
            (None, None) => "an unknown codec".to_owned(),
        };
        TrackInfo {
            number: index as u32 + 1,
            codec,
            channels: params.map_or(0, channel_count),
            sample_rate_hz: params.and_then(|params| params.sample_rate).unwrap_or(0),
            language: track
                .language
                .clone()
                .filter(|language| language != "und")
                .or_else(|| self.movie_track(track.id)?.language.clone()),
            readable: known.and_then(decoder).is_some(),
        }
    }
}

/// A decoder for such a track, if there is one that takes it: the library's, or ours for Opus.
///
/// Decoders allocate the samples of a packet, for as many channels and frames as the header claims.
/// More of either than there can be is not worth the memory.
pub(super) fn decoder(params: &AudioCodecParameters) -> Option<Box<dyn AudioDecoder>> {
    if channel_count(params) > MOST_CHANNELS || is_he_aac(params) {
        return None;
    }
    if params.codec == CODEC_ID_OPUS {
        return contain(|| OpusDecoder::new(params)).ok()?.map(|decoder| Box::new(decoder) as _);
    }
    let mut params = params.clone();
    params.max_frames_per_packet =
        params.max_frames_per_packet.map(|frames| frames.min(MAX_PACKET_FRAMES));
    let options = AudioDecoderOptions::default();
    contain(|| symphonia::default::get_codecs().make_audio_decoder(&params, &options)).ok()?.ok()
}

fn channel_count(params: &AudioCodecParameters) -> usize {
    params.channels.as_ref().map_or(0, |channels| channels.count())
}

pub(super) fn params(track: &Track) -> Option<&AudioCodecParameters> {
    match &track.codec_params {
        Some(CodecParameters::Audio(params)) => Some(params),
        _ => None,
    }
}

/// Finds frames of MPEG audio and ADTS, perhaps behind a tag, and FLAC behind a tag. A probe for
/// everything would also find a container somewhere within an archive.
fn probe_for_frames() -> Probe {
    let options = ProbeOptions { max_probe_depth: MAX_SEARCH_BYTES, ..Default::default() };
    let mut probe = Probe::new_with_options(&options);
    probe.register_format::<AdtsReader<'_>>();
    probe.register_format::<MpaReader<'_>>();
    probe.register_format::<FlacReader<'_>>();
    probe.register_metadata::<ApeReader<'_>>();
    probe.register_metadata::<Id3v1Reader<'_>>();
    probe.register_metadata::<Id3v2Reader<'_>>();
    probe
}

/// The library's complaint without the name of its part in front.
fn reason(error: &Error) -> String {
    match error {
        Error::IoError(_) => "it breaks off".to_owned(),
        Error::Unsupported(what) if what.contains("missing moov") => {
            "its index (moov) is missing, as in a recording or copy that was cut short".to_owned()
        }
        Error::DecodeError(what) | Error::Unsupported(what) | Error::LimitError(what) => {
            what.rsplit(": ").next().unwrap_or(what).to_owned()
        }
        _ => "it cannot be made sense of".to_owned(),
    }
}

fn name(short: &str, head: &[u8]) -> String {
    let has = |word: &[u8]| {
        head.iter().take(64).copied().collect::<Vec<u8>>().windows(word.len()).any(|at| at == word)
    };
    let name = match short {
        "wave" => "WAV",
        "aiff" if has(b"AIFC") => "AIFF-C",
        "isomp4" if has(b"ftypqt") => "MOV",
        "isomp4" if has(b"ftypM4A") => "M4A",
        "isomp4" => "MP4",
        "matroska" if has(b"webm") => "WebM",
        "matroska" => "Matroska",
        "ogg" => "Ogg",
        "aac" => "ADTS",
        other => return other.to_uppercase(),
    };
    name.to_owned()
}

/// Sample descriptions of MP4 that the library does not know.
fn entry_name(entry: &str) -> String {
    let name = match entry {
        "ac-3" => "AC-3",
        "ec-3" => "E-AC-3",
        "ac-4" => "AC-4",
        "mlpa" => "TrueHD",
        "dtsc" | "dtsh" | "dtsl" | "dtse" | "dtsx" => "DTS",
        "mha1" | "mhm1" => "MPEG-H",
        "samr" | "sawb" => "AMR",
        other => return format!("\u{201c}{}\u{201d}", other.escape_default()),
    };
    name.to_owned()
}
