//! Which byte of a number comes first.

/// The order of bytes in the numbers and samples of a RIFF file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::audio) enum Order {
    /// The lowest byte first: RIFF, RF64, BW64.
    LowFirst,
    /// The highest byte first: RIFX.
    HighFirst,
}

impl Order {
    /// By the first letters of the file.
    pub(super) fn of(head: &[u8]) -> Self {
        if head.starts_with(b"RIFX") { Self::HighFirst } else { Self::LowFirst }
    }

    /// 16 bits; panics where they are not there.
    pub(super) fn half(self, bytes: &[u8], at: usize) -> u16 {
        let half = [bytes[at], bytes[at + 1]];
        match self {
            Self::LowFirst => u16::from_le_bytes(half),
            Self::HighFirst => u16::from_be_bytes(half),
        }
    }

    /// 32 bits; panics where they are not there.
    pub(super) fn word(self, bytes: &[u8], at: usize) -> u32 {
        let word = [bytes[at], bytes[at + 1], bytes[at + 2], bytes[at + 3]];
        match self {
            Self::LowFirst => u32::from_le_bytes(word),
            Self::HighFirst => u32::from_be_bytes(word),
        }
    }
}
