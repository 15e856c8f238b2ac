//! The format chunk of a WAVE file.

use ledgerline_measure::ChannelRole;

use crate::audio::error::Fault;
use crate::audio::linear::Word;
use crate::audio::roles;

const PCM: u16 = 1;
const FLOAT: u16 = 3;
const EXTENSIBLE: u16 = 0xFFFE;

/// Bytes 2 to 16 of every sub-format that stands for a format tag.
const TAG_GUID: [u8; 14] = [0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71];

/// How the samples are written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::audio) struct Format {
    pub(in crate::audio) coding: Coding,
    pub(in crate::audio) channels: usize,
    pub(in crate::audio) rate_hz: u32,
    /// Bits of a word that count.
    pub(in crate::audio) bits: u32,
    pub(in crate::audio) roles: Vec<ChannelRole>,
}

/// Linear, or a codec by its format tag.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::audio) enum Coding {
    Linear(Word),
    Tag(u16),
}

impl Format {
    pub(super) fn parse(body: &[u8]) -> Result<Self, Fault> {
        if body.len() < 14 {
            return Err(Fault::BadHeader("the format chunk is too short".to_owned()));
        }
        let half = |at: usize| u16::from_le_bytes([body[at], body[at + 1]]);
        let channels = half(2);
        let rate_hz = u32::from_le_bytes([body[4], body[5], body[6], body[7]]);
        let frame_bytes = half(12);
        let stored_bits = if body.len() >= 16 { half(14) } else { 8 };
        let extension = (half(0) == EXTENSIBLE).then(|| Extension::parse(body)).flatten();
        let tag = extension.as_ref().map_or(half(0), |extension| extension.tag);
        if channels == 0 {
            return Err(Fault::NoChannels);
        }
        if rate_hz == 0 {
            return Err(Fault::NoRate);
        }
        let channels = usize::from(channels);
        let coding = match word(tag, stored_bits, frame_bytes, channels) {
            Some(word) => Coding::Linear(word),
            None if matches!(tag, PCM | FLOAT) => {
                return Err(Fault::BadHeader(format!(
                    "it states samples of {stored_bits} bits, {frame_bytes} bytes for the \
                     {channels} channels of a frame"
                )));
            }
            None => Coding::Tag(tag),
        };
        let mask = extension.as_ref().map_or(0, |extension| extension.mask);
        let valid = extension.map_or(0, |extension| extension.valid_bits);
        let bits = match coding {
            _ if valid > 0 && valid <= stored_bits => valid,
            Coding::Linear(word) if stored_bits == 0 => 8 * word.bytes() as u16,
            _ => stored_bits,
        };
        Ok(Self {
            coding,
            channels,
            rate_hz,
            bits: u32::from(bits),
            roles: roles::of_wave_mask(mask, channels),
        })
    }
}

/// What WAVE_FORMAT_EXTENSIBLE adds.
struct Extension {
    valid_bits: u16,
    mask: u32,
    tag: u16,
}

impl Extension {
    fn parse(body: &[u8]) -> Option<Self> {
        let guid = body.get(24..40)?;
        let tag = u16::from_le_bytes([guid[0], guid[1]]);
        Some(Self {
            valid_bits: u16::from_le_bytes([body[18], body[19]]),
            mask: u32::from_le_bytes([body[20], body[21], body[22], body[23]]),
            tag: if guid[2..] == TAG_GUID { tag } else { EXTENSIBLE },
        })
    }
}

/// The word by the bytes that a frame takes; by the bits where those make no sense.
///
/// Words narrower than their container stand in its upper bits.
fn word(tag: u16, bits: u16, frame_bytes: u16, channels: usize) -> Option<Word> {
    let frame_bytes = usize::from(frame_bytes);
    let needed = usize::from(bits).div_ceil(8);
    let stored = if frame_bytes.is_multiple_of(channels) && frame_bytes / channels >= needed {
        frame_bytes / channels
    } else {
        needed
    };
    match (tag, stored) {
        (PCM, 1) => Some(Word::U8),
        (PCM, 2..=4) => Some(Word::Integer { bytes: stored as u8, big_endian: false }),
        (FLOAT, 4 | 8) => Some(Word::Float { bytes: stored as u8, big_endian: false }),
        _ => None,
    }
}
