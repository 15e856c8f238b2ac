//! Linear samples: words of a file to numbers, 1.0 being full scale.
//!
//! An integer of n bits is divided by 2^(n-1). That is exact in 32-bit floats up to 24 bits, and in
//! 64-bit floats up to 53.

use symphonia::core::audio::conv::ConvertibleSample;

use super::companding::Curve;

/// A number that samples are handed out as: `f32` or `f64`.
pub(super) trait Sample: ConvertibleSample + Copy + Default {
    /// From a 64-bit float: rounded, or as it is.
    fn from_f64(value: f64) -> Self;
    /// From a 32-bit float: as it is.
    fn from_f32(value: f32) -> Self;
}

impl Sample for f32 {
    fn from_f64(value: f64) -> Self {
        value as f32
    }
    fn from_f32(value: f32) -> Self {
        value
    }
}

impl Sample for f64 {
    fn from_f64(value: f64) -> Self {
        value
    }
    fn from_f32(value: f32) -> Self {
        f64::from(value)
    }
}

/// How a word is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Word {
    /// Unsigned bytes about 128.
    U8,
    /// Signed bytes.
    I8,
    /// Signed, two's complement, of 2 to 8 bytes.
    Integer { bytes: u8, big_endian: bool },
    /// IEEE 754, of 4 or 8 bytes.
    Float { bytes: u8, big_endian: bool },
    /// A byte on a curve of ITU-T G.711.
    Companded(Curve),
}

impl Word {
    pub(super) fn bytes(self) -> usize {
        match self {
            Self::U8 | Self::I8 | Self::Companded(_) => 1,
            Self::Integer { bytes, .. } | Self::Float { bytes, .. } => usize::from(bytes),
        }
    }

    /// The same word in QuickTime, where these four descriptions leave the order of bytes to another
    /// atom, which the library does not read.
    pub(super) fn in_quicktime(self, description: &str, little_endian: bool) -> Self {
        match self {
            Self::Integer { bytes, .. } if matches!(description, "in24" | "in32") => {
                Self::Integer { bytes, big_endian: !little_endian }
            }
            Self::Float { bytes, .. } if matches!(description, "fl32" | "fl64") => {
                Self::Float { bytes, big_endian: !little_endian }
            }
            other => other,
        }
    }

    pub(super) fn is_float(self) -> bool {
        matches!(self, Self::Float { .. })
    }
}

/// Interleaved words to one vector a channel; what was in the vectors is replaced.
///
/// `bytes` are whole frames.
pub(super) fn deinterleave<S: Sample>(
    word: Word,
    channels: usize,
    bytes: &[u8],
    block: &mut Vec<Vec<S>>,
) {
    use Word::{Companded, Float, I8, Integer, U8};
    let to = |block| Deinterleave { channels, bytes, block };
    match word {
        U8 => to(block).words(|[a]| S::from_f32((f32::from(a) - 128.0) / 128.0)),
        I8 => to(block).words(|[a]| S::from_f32(f32::from(a as i8) / 128.0)),
        Integer { bytes: 2, big_endian: false } => {
            to(block).words(|w| i16_to(i16::from_le_bytes(w)))
        }
        Integer { bytes: 2, .. } => to(block).words(|w| i16_to(i16::from_be_bytes(w))),
        Integer { bytes: 3, big_endian: false } => {
            to(block).words(|[a, b, c]| i32_to(i32::from_le_bytes([0, a, b, c])))
        }
        Integer { bytes: 3, .. } => {
            to(block).words(|[a, b, c]| i32_to(i32::from_be_bytes([a, b, c, 0])))
        }
        Integer { bytes: 4, big_endian: false } => {
            to(block).words(|w| i32_to(i32::from_le_bytes(w)));
        }
        Integer { bytes: 4, .. } => to(block).words(|w| i32_to(i32::from_be_bytes(w))),
        Integer { bytes: 5, big_endian } => to(block).words(|w: [u8; 5]| long_to(w, big_endian)),
        Integer { bytes: 6, big_endian } => to(block).words(|w: [u8; 6]| long_to(w, big_endian)),
        Integer { bytes: 7, big_endian } => to(block).words(|w: [u8; 7]| long_to(w, big_endian)),
        Integer { big_endian, .. } => to(block).words(|w: [u8; 8]| long_to(w, big_endian)),
        Float { bytes: 4, big_endian: false } => {
            to(block).words(|w| S::from_f32(f32::from_le_bytes(w)));
        }
        Float { bytes: 4, .. } => to(block).words(|w| S::from_f32(f32::from_be_bytes(w))),
        Float { big_endian: false, .. } => to(block).words(|w| S::from_f64(f64::from_le_bytes(w))),
        Float { .. } => to(block).words(|w| S::from_f64(f64::from_be_bytes(w))),
        Companded(curve) => {
            let values = curve.table();
            to(block).words(|[a]| i16_to(values[usize::from(a)]));
        }
    }
}

fn i16_to<S: Sample>(value: i16) -> S {
    S::from_f32(f32::from(value) / 32_768.0)
}

/// Also for 24 bits in the upper three bytes. The division is by a power of two, so that the only
/// rounding is that of a 32-bit word to a 32-bit float.
fn i32_to<S: Sample>(value: i32) -> S {
    S::from_f64(f64::from(value) / 2_147_483_648.0)
}

/// A word of 5 to 8 bytes, in the upper bytes of 64 bits. What has more than 53 bits is rounded to a
/// 64-bit float.
fn long_to<S: Sample, const BYTES: usize>(mut word: [u8; BYTES], big_endian: bool) -> S {
    if !big_endian {
        word.reverse();
    }
    let mut whole = [0; 8];
    whole[..BYTES].copy_from_slice(&word);
    S::from_f64(i64::from_be_bytes(whole) as f64 / 9_223_372_036_854_775_808.0)
}

struct Deinterleave<'a, S> {
    channels: usize,
    bytes: &'a [u8],
    block: &'a mut Vec<Vec<S>>,
}

impl<S: Sample> Deinterleave<'_, S> {
    fn words<const BYTES: usize>(self, convert: impl Fn([u8; BYTES]) -> S) {
        let (words, rest) = self.bytes.as_chunks::<BYTES>();
        debug_assert!(rest.is_empty() && words.len().is_multiple_of(self.channels));
        self.block.resize_with(self.channels, Vec::new);
        if let [left, right] = self.block.as_mut_slice() {
            let (pairs, _) = words.as_chunks::<2>();
            left.clear();
            right.clear();
            left.extend(pairs.iter().map(|pair| convert(pair[0])));
            right.extend(pairs.iter().map(|pair| convert(pair[1])));
            return;
        }
        for (channel, samples) in self.block.iter_mut().enumerate() {
            samples.clear();
            samples.extend(words.iter().skip(channel).step_by(self.channels).map(|w| convert(*w)));
        }
    }
}
