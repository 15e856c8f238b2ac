//! Opening MP4 whose track holds linear samples.

use std::fs::File;

use symphonia::core::codecs::audio::AudioCodecParameters;
use symphonia::core::codecs::audio::well_known::*;

use super::Opened;
use super::about::{About, check_channels};
use crate::audio::codec::Codec;
use crate::audio::container::{Chosen, Container};
use crate::audio::error::Fault;
use crate::audio::linear::Word;
use crate::audio::linear_track::LinearTrack;
use crate::audio::{Body, mp4, roles};

pub(super) fn open(
    container: &Container,
    chosen: &Chosen,
    track: &mp4::Track,
    word: Word,
    file: File,
    name: &str,
) -> Result<Opened, Fault> {
    let channels = chosen.params.channels.as_ref().ok_or(Fault::NoChannels)?;
    let count = channels.count();
    check_channels(count)?;
    let frame_bytes = (word.bytes() * count) as u64;
    let extents = track.extents(file, frame_bytes);
    let rate_hz = chosen.params.sample_rate.filter(|hz| *hz > 0).ok_or(Fault::NoRate)?;
    let window = track.window_in_frames(rate_hz);
    let frames = window.frames(extents.bytes() / frame_bytes);
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
    let body = Body::LinearMp4(LinearTrack::new(extents, word, count, None).within(window));
    Ok(Opened { info, body, warnings: Vec::new() })
}

/// The word of a linear codec that is read here.
pub(super) fn word(params: &AudioCodecParameters) -> Option<Word> {
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
