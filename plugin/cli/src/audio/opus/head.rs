//! The identification header of Opus (RFC 7845, 5.1), which containers carry beside the packets.

use symphonia::core::audio::{Channels, Position};
use symphonia::core::codecs::audio::AudioCodecParameters;

const MAGIC: &[u8] = b"OpusHead";

/// Bytes of the header as far as every mapping family has them.
const PLAIN_BYTES: usize = 19;

/// Families of channel mappings: mono or stereo, loudspeakers in the order of Vorbis, channels
/// without a meaning.
const STEREO: u8 = 0;
const LOUDSPEAKERS: u8 = 1;
const DISCRETE: u8 = 255;

/// What the header says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(in crate::audio) struct Head {
    family: u8,
    /// Frames at 48 kHz before the sound.
    pub(in crate::audio) pre_skip: u16,
    /// In steps of 1/256 dB.
    gain: i16,
    pub(super) streams: u8,
    /// The first so many streams are stereo.
    pub(super) coupled: u8,
    /// For each channel handed out the decoded channel it takes, 255 being silence.
    pub(super) mapping: Vec<u8>,
}

impl Head {
    /// The header in a track's parameters; without one a plain stream of so many channels.
    pub(in crate::audio) fn of(params: &AudioCodecParameters) -> Option<Self> {
        match params.extra_data.as_deref() {
            Some(bytes) if !bytes.is_empty() => Self::parse(bytes),
            _ => Self::plain(params.channels.as_ref()?.count()),
        }
    }

    fn plain(channels: usize) -> Option<Self> {
        let coupled = match channels {
            1 => 0,
            2 => 1,
            _ => return None,
        };
        let mapping = (0..channels as u8).collect();
        Some(Self { family: STEREO, pre_skip: 0, gain: 0, streams: 1, coupled, mapping })
    }

    fn parse(bytes: &[u8]) -> Option<Self> {
        let body = bytes.strip_prefix(MAGIC)?;
        let bytes = bytes.get(..PLAIN_BYTES)?;
        // MP4 keeps the same fields with the highest byte first, and calls that version 0.
        let half = |at: usize| match bytes[8] {
            0 => u16::from_be_bytes([bytes[at], bytes[at + 1]]),
            _ => u16::from_le_bytes([bytes[at], bytes[at + 1]]),
        };
        let count = usize::from(bytes[9]);
        let family = bytes[18];
        let head = Self::plain(if family == STEREO { count } else { 1 })?;
        let head = Self { family, pre_skip: half(10), gain: half(16) as i16, ..head };
        if family == STEREO {
            return Some(head);
        }
        let table = body.get(PLAIN_BYTES - MAGIC.len()..)?;
        let stated = table.get(2..2 + count)?;
        let mapping = match family {
            LOUDSPEAKERS => order(count)?.iter().map(|from| stated[*from]).collect(),
            DISCRETE if count > 0 => stated.to_vec(),
            _ => return None,
        };
        Some(Self { streams: table[0], coupled: table[1], mapping, ..head })
    }

    /// What the channels are for, in the order in which they are handed out.
    pub(super) fn channels(&self) -> Channels {
        let count = self.mapping.len();
        match positions(count) {
            Some(positions) if self.family != DISCRETE => Channels::Positioned(positions),
            _ => Channels::Discrete(count as u16),
        }
    }

    /// The output gain as a factor.
    pub(super) fn gain(&self) -> f32 {
        10f64.powf(f64::from(self.gain) / (20.0 * 256.0)) as f32
    }
}

/// For each channel in the order of a WAVE file, where it stands in the order of Vorbis, which is
/// that of Opus (RFC 7845, 5.1.1.2).
fn order(channels: usize) -> Option<&'static [usize]> {
    Some(match channels {
        1 => &[0],
        2 => &[0, 1],
        3 => &[0, 2, 1],
        4 => &[0, 1, 2, 3],
        5 => &[0, 2, 1, 3, 4],
        6 => &[0, 2, 1, 5, 3, 4],
        7 => &[0, 2, 1, 6, 5, 3, 4],
        8 => &[0, 2, 1, 7, 5, 6, 3, 4],
        _ => return None,
    })
}

fn positions(channels: usize) -> Option<Position> {
    const STEREO: Position = Position::FRONT_LEFT.union(Position::FRONT_RIGHT);
    const FRONT: Position = STEREO.union(Position::FRONT_CENTER);
    const REAR: Position = Position::REAR_LEFT.union(Position::REAR_RIGHT);
    const SIDE: Position = Position::SIDE_LEFT.union(Position::SIDE_RIGHT);
    Some(match channels {
        1 => Position::FRONT_CENTER,
        2 => STEREO,
        3 => FRONT,
        4 => STEREO.union(REAR),
        5 => FRONT.union(REAR),
        6 => FRONT.union(REAR).union(Position::LFE1),
        7 => FRONT.union(SIDE).union(Position::REAR_CENTER).union(Position::LFE1),
        8 => FRONT.union(SIDE).union(REAR).union(Position::LFE1),
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bytes(version: u8, channels: u8, rest: &[u8]) -> Vec<u8> {
        [b"OpusHead", &[version, channels][..], rest].concat()
    }

    #[test]
    fn loudspeakers_are_handed_out_in_the_order_of_a_wave_file() {
        // Pre-skip 312, 48 kHz, 3 dB down, then four streams, two of them stereo.
        let rest = [56, 1, 0x80, 0xBB, 0, 0, 0, 253, 1, 4, 2, 0, 4, 1, 2, 3, 5];
        let head = Head::parse(&bytes(1, 6, &rest)).expect("a header");
        assert_eq!((head.pre_skip, head.gain), (312, -768));
        assert_eq!(head.mapping, [0, 1, 4, 5, 2, 3]);
        assert_eq!(head.channels().count(), 6);
    }

    #[test]
    fn mp4_writes_the_highest_byte_first() {
        let rest = [1, 56, 0, 0, 0xBB, 0x80, 253, 0, 0];
        let head = Head::parse(&bytes(0, 2, &rest)).expect("a header");
        assert_eq!((head.pre_skip, head.gain), (312, -768));
    }

    #[test]
    fn what_makes_no_sense_is_no_header() {
        let rest = [56, 1, 0x80, 0xBB, 0, 0, 0, 0];
        for (channels, end) in
            [(3, &[0][..]), (0, &[0]), (9, &[1, 9, 0]), (6, &[1, 4, 2]), (2, &[])]
        {
            assert_eq!(Head::parse(&bytes(1, channels, &[&rest[..], end].concat())), None);
        }
    }
}
