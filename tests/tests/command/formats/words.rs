//! A signal of a certain word length, as numbers and as the bytes of a raw file.

use ledgerline_tests::signals::noise::uniform;

/// How the words of a raw file are written, lowest byte first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Words {
    U8,
    S16,
    S24,
    S32,
    F32,
    F64,
}

impl Words {
    pub fn bits(self) -> u32 {
        match self {
            Self::U8 => 8,
            Self::S16 => 16,
            Self::S24 => 24,
            Self::S32 | Self::F32 => 32,
            Self::F64 => 64,
        }
    }

    pub fn is_float(self) -> bool {
        matches!(self, Self::F32 | Self::F64)
    }

    /// What `ffmpeg` calls a raw file of them.
    pub fn raw_name(self) -> &'static str {
        match self {
            Self::U8 => "u8",
            Self::S16 => "s16le",
            Self::S24 => "s24le",
            Self::S32 => "s32le",
            Self::F32 => "f32le",
            Self::F64 => "f64le",
        }
    }

    /// The nearest number that such a word holds, and the word.
    pub fn quantised(self, value: f64) -> (f64, Vec<u8>) {
        match self {
            Self::F32 => (f64::from(value as f32), (value as f32).to_le_bytes().to_vec()),
            Self::F64 => (value, value.to_le_bytes().to_vec()),
            _ => {
                let scale = 2f64.powi(self.bits() as i32 - 1);
                let step = (value * scale).round().clamp(-scale, scale - 1.0);
                let bytes = match self {
                    Self::U8 => vec![(step + 128.0) as u8],
                    _ => (step as i64).to_le_bytes()[..self.bits() as usize / 8].to_vec(),
                };
                (step / scale, bytes)
            }
        }
    }
}

/// Noise that touches both ends of full scale; in floating point it passes them.
pub struct Signal {
    pub channels: Vec<Vec<f64>>,
    pub raw: Vec<u8>,
}

impl Signal {
    pub fn new(words: Words, channels: usize, frames: usize) -> Self {
        let loudest = if words.is_float() { 1.5 } else { 1.01 };
        let mut signal = Self { channels: vec![Vec::new(); channels], raw: Vec::new() };
        for frame in 0..frames {
            for (channel, samples) in signal.channels.iter_mut().enumerate() {
                let (number, word) =
                    words.quantised(loudest * uniform(channel as u64 + 1, frame as u64));
                samples.push(number);
                signal.raw.extend(word);
            }
        }
        signal
    }
}
