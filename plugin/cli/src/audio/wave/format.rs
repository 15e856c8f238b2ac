//! The format chunk of a WAVE file.

use ledgerline_measure::ChannelRole;

use super::order::Order;
use crate::audio::companding::Curve;
use crate::audio::error::Fault;
use crate::audio::linear::Word;
use crate::audio::roles;

const PCM: u16 = 1;
const FLOAT: u16 = 3;
const A_LAW: u16 = 6;
const MU_LAW: u16 = 7;
const EXTENSIBLE: u16 = 0xFFFE;

/// The end of every sub-format that stands for a format tag: eight bytes, behind a number of 32 bits
/// and two of 16, which turn with the order of bytes.
const TAG_GUID: [u8; 8] = [0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71];

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
    pub(super) fn parse(body: &[u8], order: Order) -> Result<Self, Fault> {
        if body.len() < 14 {
            return Err(Fault::BadHeader("the format chunk is too short".to_owned()));
        }
        let half = |at: usize| order.half(body, at);
        let channels = half(2);
        let rate_hz = order.word(body, 4);
        let frame_bytes = half(12);
        let stored_bits = if body.len() >= 16 { half(14) } else { 8 };
        let extension = (half(0) == EXTENSIBLE).then(|| Extension::parse(body, order)).flatten();
        let tag = extension.as_ref().map_or(half(0), |extension| extension.tag);
        if channels == 0 {
            return Err(Fault::NoChannels);
        }
        if rate_hz == 0 {
            return Err(Fault::NoRate);
        }
        let channels = usize::from(channels);
        let coding = match word(tag, stored_bits, frame_bytes, channels, order) {
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
    fn parse(body: &[u8], order: Order) -> Option<Self> {
        let guid = body.get(24..40)?;
        let tag = format_tag(guid, order);
        Some(Self {
            valid_bits: order.half(body, 18),
            mask: order.word(body, 20),
            tag: tag.unwrap_or(EXTENSIBLE),
        })
    }
}

/// The format tag that a sub-format of 16 bytes stands for. In RIFX some programs turn all its
/// numbers, some the tag alone.
fn format_tag(guid: &[u8], order: Order) -> Option<u16> {
    let is_turned = order.half(guid, 4) == 0 && order.half(guid, 6) == 0x10;
    let tag =
        if is_turned { u16::try_from(order.word(guid, 0)).ok()? } else { order.half(guid, 0) };
    let is_fixed = guid[2..8] == [0, 0, 0, 0, 0x10, 0];
    ((is_turned || is_fixed) && guid[8..] == TAG_GUID).then_some(tag)
}

/// The word by the bytes that a frame takes; by the bits where those make no sense.
///
/// Words narrower than their container stand in its upper bits.
fn word(tag: u16, bits: u16, frame_bytes: u16, channels: usize, order: Order) -> Option<Word> {
    let frame_bytes = usize::from(frame_bytes);
    let needed = usize::from(bits).div_ceil(8);
    let stored = if frame_bytes.is_multiple_of(channels) && frame_bytes / channels >= needed {
        frame_bytes / channels
    } else {
        needed
    };
    let big_endian = order == Order::HighFirst;
    match (tag, stored) {
        (PCM, 1) => Some(Word::U8),
        (PCM, 2..=8) => Some(Word::Integer { bytes: stored as u8, big_endian }),
        (FLOAT, 4 | 8) => Some(Word::Float { bytes: stored as u8, big_endian }),
        (A_LAW, 1) => Some(Word::Companded(Curve::A)),
        (MU_LAW, 1) => Some(Word::Companded(Curve::Mu)),
        _ => None,
    }
}
