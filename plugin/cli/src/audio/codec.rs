//! Names of codecs, and what they do to the samples.

use symphonia::core::audio::sample::SampleFormat;
use symphonia::core::codecs::audio::well_known::profiles::{
    CODEC_PROFILE_AAC_HE, CODEC_PROFILE_AAC_HE_V2, CODEC_PROFILE_AAC_LC,
};
use symphonia::core::codecs::audio::well_known::*;
use symphonia::core::codecs::audio::{AudioCodecId, AudioCodecParameters};

use super::aac;
use super::companding::Curve;
use super::linear::Word;
use super::opus;

/// No codec puts more frames into one packet.
pub(super) const MAX_PACKET_FRAMES: u64 = 65_536;

/// What is told about a track's coding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Codec {
    pub(super) name: String,
    pub(super) bits: Option<u32>,
    pub(super) float: bool,
    pub(super) lossy: bool,
}

impl Codec {
    pub(super) fn linear(bits: u32, float: bool) -> Self {
        let kind = if float { " float" } else { "" };
        Self { name: format!("PCM, {bits} bit{kind}"), bits: Some(bits), float, lossy: false }
    }

    /// Of words of which so many bits count.
    pub(super) fn of_words(word: Word, bits: u32) -> Self {
        match word {
            Word::Companded(curve) => {
                Self { name: curve.name().to_owned(), bits: None, float: false, lossy: true }
            }
            word => Self::linear(bits, word.is_float()),
        }
    }

    pub(super) fn of(params: &AudioCodecParameters) -> Self {
        if let Some(codec) = linear(params) {
            return codec;
        }
        let name = name(params);
        match params.codec {
            CODEC_ID_FLAC | CODEC_ID_ALAC => {
                let bits =
                    params.bits_per_sample.filter(|bits| *bits > 0).or_else(|| alac_bits(params));
                let name = bits.map_or(name.clone(), |bits| format!("{name}, {bits} bit"));
                Self { name, bits, float: false, lossy: false }
            }
            CODEC_ID_WAVPACK | CODEC_ID_TTA | CODEC_ID_TRUEHD | CODEC_ID_MONKEYS_AUDIO => {
                Self { name, bits: params.bits_per_sample, float: false, lossy: false }
            }
            _ => Self { name, bits: None, float: false, lossy: true },
        }
    }
}

/// Delay and padding are stated packet by packet, and its decoder takes them out.
pub(super) fn is_trimmed_by_decoder(codec: AudioCodecId) -> bool {
    matches!(codec, CODEC_ID_MP1 | CODEC_ID_MP2 | CODEC_ID_MP3 | CODEC_ID_VORBIS | CODEC_ID_OPUS)
}

/// Frames before the sound that a codec's own header states: Opus's pre-skip.
pub(super) fn lead_frames(params: &AudioCodecParameters) -> u64 {
    let head = (params.codec == CODEC_ID_OPUS).then(|| opus::Head::of(params)).flatten();
    head.map_or(0, |head| u64::from(head.pre_skip))
}

/// At what rate frames are counted before the first is decoded, at least 1.
pub(super) fn clock_hz(params: &AudioCodecParameters) -> u32 {
    match params.codec {
        CODEC_ID_OPUS => opus::RATE_HZ,
        _ => params.sample_rate.unwrap_or(0).max(1),
    }
}

/// The word length that the magic cookie of ALAC states.
fn alac_bits(params: &AudioCodecParameters) -> Option<u32> {
    alac_cookie(params)?.get(5).copied().map(u32::from)
}

/// The cookie: frames of a packet, a version, the word length. Older files put two atoms of 12 bytes
/// before it.
fn alac_cookie(params: &AudioCodecParameters) -> Option<&[u8]> {
    let cookie = params.extra_data.as_ref().filter(|_| params.codec == CODEC_ID_ALAC)?;
    if cookie.get(4..8) == Some(b"frma") { cookie.get(24..) } else { Some(cookie) }
}

fn linear(params: &AudioCodecParameters) -> Option<Codec> {
    // The numbers of linear codecs stand in one block of the library's list.
    if !(CODEC_ID_PCM_S32LE..=CODEC_ID_PCM_F64BE_PLANAR).contains(&params.codec) {
        return None;
    }
    let float = params.codec >= CODEC_ID_PCM_F32LE;
    let format_bits = params.sample_format.map(|format| match format {
        SampleFormat::U8 | SampleFormat::S8 => 8,
        SampleFormat::U16 | SampleFormat::S16 => 16,
        SampleFormat::U24 | SampleFormat::S24 => 24,
        SampleFormat::F64 => 64,
        _ => 32,
    });
    let bits = params.bits_per_coded_sample.or(params.bits_per_sample).or(format_bits);
    Some(Codec::linear(bits.unwrap_or(stored_bits(params.codec)), float))
}

fn stored_bits(codec: AudioCodecId) -> u32 {
    match codec {
        CODEC_ID_PCM_S8 | CODEC_ID_PCM_U8 => 8,
        CODEC_ID_PCM_S16LE | CODEC_ID_PCM_S16BE | CODEC_ID_PCM_U16LE | CODEC_ID_PCM_U16BE => 16,
        CODEC_ID_PCM_S24LE | CODEC_ID_PCM_S24BE | CODEC_ID_PCM_U24LE | CODEC_ID_PCM_U24BE => 24,
        CODEC_ID_PCM_F64LE | CODEC_ID_PCM_F64BE => 64,
        _ => 32,
    }
}

fn name(params: &AudioCodecParameters) -> String {
    let name = match params.codec {
        CODEC_ID_AAC => return aac_name(params),
        CODEC_ID_PCM_ALAW => Curve::A.name(),
        CODEC_ID_PCM_MULAW => Curve::Mu.name(),
        CODEC_ID_FLAC => "FLAC",
        CODEC_ID_ALAC => "ALAC",
        CODEC_ID_MP1 => "MPEG layer 1",
        CODEC_ID_MP2 => "MPEG layer 2",
        CODEC_ID_MP3 => "MP3",
        CODEC_ID_VORBIS => "Vorbis",
        CODEC_ID_OPUS => "Opus",
        CODEC_ID_AC3 => "AC-3",
        CODEC_ID_EAC3 => "E-AC-3",
        CODEC_ID_AC4 => "AC-4",
        CODEC_ID_DCA => "DTS",
        CODEC_ID_TRUEHD => "TrueHD",
        CODEC_ID_WAVPACK => "WavPack",
        CODEC_ID_TTA => "True Audio",
        CODEC_ID_SPEEX => "Speex",
        CODEC_ID_MUSEPACK => "Musepack",
        CODEC_ID_WMA => "WMA",
        CODEC_ID_ADPCM_MS
        | CODEC_ID_ADPCM_IMA_WAV
        | CODEC_ID_ADPCM_IMA_QT
        | CODEC_ID_ADPCM_G722
        | CODEC_ID_ADPCM_G726
        | CODEC_ID_ADPCM_G726LE => "ADPCM",
        other => return format!("codec {other}"),
    };
    name.to_owned()
}

/// HE-AAC by what the container states, which a decoder of plain AAC would take all the same.
pub(super) fn is_he_aac(params: &AudioCodecParameters) -> bool {
    params.codec == CODEC_ID_AAC
        && params.extra_data.as_deref().and_then(aac::object_type) == Some(aac::SBR)
}

/// AAC comes in profiles, of which only the plain one is decoded here.
fn aac_name(params: &AudioCodecParameters) -> String {
    let channels = params.channels.as_ref().map_or(0, |channels| channels.count());
    let more = if channels > 2 { format!(" of {channels} channels") } else { String::new() };
    let profile = match (params.profile, params.extra_data.as_deref().and_then(aac::object_type)) {
        (_, Some(aac::SBR)) | (Some(CODEC_PROFILE_AAC_HE), _) => "HE-AAC",
        (_, Some(29)) | (Some(CODEC_PROFILE_AAC_HE_V2), _) => "HE-AAC v2",
        (_, Some(42)) => "xHE-AAC",
        (_, Some(2)) | (Some(CODEC_PROFILE_AAC_LC), _) | (None, None) => "AAC-LC",
        (_, Some(1)) => "AAC Main",
        (_, Some(3)) => "AAC SSR",
        (_, Some(4)) => "AAC LTP",
        (_, Some(23)) => "AAC-LD",
        (_, Some(39)) => "AAC-ELD",
        _ => "AAC",
    };
    format!("{profile}{more}")
}
