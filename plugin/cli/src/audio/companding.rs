//! The two curves of ITU-T G.711, by which telephony puts a sample into a byte.
//!
//! Both are halves of eight segments, each twice as steep as the one below. The standard's values have
//! 13 bits (A-law) and 14 (µ-law); here they stand in the upper bits of 16, so that full scale is that
//! of a 16-bit word.

/// Which curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Curve {
    /// G.711, table 1.
    A,
    /// G.711, table 2.
    Mu,
}

impl Curve {
    /// The name to show.
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::A => "A-law",
            Self::Mu => "\u{b5}-law",
        }
    }

    /// The value of each byte.
    pub(super) fn table(self) -> [i16; 256] {
        std::array::from_fn(|byte| match self {
            Self::A => a_law(byte as u8),
            Self::Mu => mu_law(byte as u8),
        })
    }
}

/// Every other bit is inverted; a set sign bit is positive. The lowest segment is as steep as the
/// second and has no leading one.
fn a_law(byte: u8) -> i16 {
    let byte = byte ^ 0x55;
    let (segment, step) = ((byte >> 4) & 7, i16::from(byte & 15));
    let level = match segment {
        0 => (step << 4) + 8,
        segment => ((step << 4) + 0x108) << (segment - 1),
    };
    if byte & 0x80 != 0 { level } else { -level }
}

/// Every bit is inverted; a set sign bit is negative then. 33 of 8192 is added before the segments
/// are counted, and taken away again here.
fn mu_law(byte: u8) -> i16 {
    const BIAS: i16 = 33 << 2;
    let byte = !byte;
    let (segment, step) = ((byte >> 4) & 7, i16::from(byte & 15));
    let level = (((step << 3) + BIAS) << segment) - BIAS;
    if byte & 0x80 != 0 { -level } else { level }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The ends and the values about zero in tables 1 and 2 of the recommendation, by its scales of
    /// 4096 and 8192.
    #[test]
    fn the_ends_and_the_middle_are_those_of_the_recommendation() {
        let (a, mu) = (Curve::A.table(), Curve::Mu.table());
        assert_eq!([0xAA, 0x2A, 0xD5, 0x55].map(|byte: usize| a[byte] >> 3), [4032, -4032, 1, -1]);
        assert_eq!([0x80, 0x00, 0xFF, 0x7F].map(|byte: usize| mu[byte] >> 2), [8031, -8031, 0, 0]);
    }
}
