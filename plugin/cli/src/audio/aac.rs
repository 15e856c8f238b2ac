//! HE-AAC, told from plain AAC (ISO/IEC 14496-3).
//!
//! HE-AAC is plain AAC at half the rate, with data beside it from which the upper half of the band is
//! made. A decoder of plain AAC passes the data over and gives half of the sound. Three places tell:
//! the object type in the configuration, an extension behind it, or, in a stream that says nothing,
//! the data itself.

/// The types of audio object that stand for the data: spectral band replication, and with it
/// parametric stereo.
pub(super) const SBR: u8 = 5;

/// Behind a configuration: an extension follows.
const SYNC_EXTENSION: u32 = 0x2B7;

/// Elements of a packet, and the two types of extension that the data comes in.
const FILL: u32 = 6;
const END: u32 = 7;
const SBR_DATA: u32 = 0xD;
const SBR_DATA_CHECKED: u32 = 0xE;

/// The object type in an AudioSpecificConfig: 5 bits, or 31 and 6 bits more. An extension behind it
/// counts as its object type.
pub(super) fn object_type(config: &[u8]) -> Option<u8> {
    let mut bits = Bits { bytes: config, at: 0 };
    let object_type = match bits.take(5)? {
        31 => 32 + bits.take(6)?,
        short => short,
    };
    let extension = (object_type == 2).then(|| extension(&mut bits)).flatten();
    Some(extension.unwrap_or(object_type as u8))
}

/// The object type of the extension behind plain AAC's configuration, where there is one.
fn extension(bits: &mut Bits) -> Option<u8> {
    const EXPLICIT_RATE: u32 = 15;
    if bits.take(4)? == EXPLICIT_RATE {
        bits.take(24)?;
    }
    // A configuration 0 of channels is followed by a table of elements, which is not gone through.
    if bits.take(4)? == 0 {
        return None;
    }
    let _frame_length = bits.take(1)?;
    if bits.take(1)? == 1 {
        let _core_coder_delay = bits.take(14)?;
    }
    let _extension = bits.take(1)?;
    let is_sbr = bits.take(11)? == SYNC_EXTENSION && bits.take(5)? == u32::from(SBR);
    (is_sbr && bits.take(1)? == 1).then_some(SBR)
}

/// Whether a packet ends with the data: an element that fills, of that type, and then the end. The
/// elements before can only be gone through by decoding them, so that it is looked for from the end;
/// of packets without it, about one in ten seems to have it by chance.
pub(super) fn ends_with_sbr(packet: &[u8]) -> bool {
    let Some(last) = packet.iter().rposition(|byte| *byte != 0) else { return false };
    // The end is three ones, and zeros up to the next byte.
    let end = 8 * last + 8 - packet[last].trailing_zeros() as usize;
    if last + 1 != packet.len() || end < 3 || Bits::at(packet, end - 3).take(3) != Some(END) {
        return false;
    }
    (1..=269).any(|bytes| fills_with_sbr(packet, end - 3, bytes).unwrap_or(false))
}

/// Whether an element that fills so many bytes ends at a bit, and holds the data.
fn fills_with_sbr(packet: &[u8], end: usize, bytes: usize) -> Option<bool> {
    const LONG: usize = 15;
    let count_bits = if bytes < LONG { 4 } else { 12 };
    let start = end.checked_sub(3 + count_bits + 8 * bytes)?;
    let mut bits = Bits::at(packet, start);
    let is_fill = bits.take(3)? == FILL;
    let count = match bits.take(4)? as usize {
        LONG => LONG - 1 + bits.take(8)? as usize,
        short => short,
    };
    Some(is_fill && count == bytes && matches!(bits.take(4)?, SBR_DATA | SBR_DATA_CHECKED))
}

/// Reads bits, the highest of a byte first.
struct Bits<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl<'a> Bits<'a> {
    fn at(bytes: &'a [u8], at: usize) -> Self {
        Self { bytes, at }
    }

    fn take(&mut self, count: usize) -> Option<u32> {
        let mut value = 0;
        for _ in 0..count {
            let byte = self.bytes.get(self.at / 8)?;
            value = value << 1 | u32::from(byte >> (7 - self.at % 8) & 1);
            self.at += 1;
        }
        Some(value)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_configuration_tells_in_both_ways() {
        // Plain AAC at 24 kHz, stereo; the same with the extension behind, once switched off; and the
        // object types themselves.
        assert_eq!(object_type(&[0x13, 0x10]), Some(2));
        assert_eq!(object_type(&[0x13, 0x10, 0x56, 0xE5, 0x98]), Some(5));
        assert_eq!(object_type(&[0x13, 0x10, 0x56, 0xE5, 0x18]), Some(2));
        assert_eq!(object_type(&[0x2B, 0x11, 0x88, 0x00]), Some(5));
        assert_eq!(object_type(&[0xF9, 0x40]), Some(42));
    }

    #[test]
    fn the_data_is_found_at_the_end_of_a_packet() {
        // 0110: something before; 110 0010: two bytes that fill; 1101: the data; 111: the end.
        let with = [0b0110_1100, 0b0101_1010, 0b1010_1010, 0b1011_1100];
        let other = [0b0110_1100, 0b0100_0110, 0b1010_1010, 0b1011_1100];
        assert!(ends_with_sbr(&with));
        assert!(!ends_with_sbr(&other));
        assert!(!ends_with_sbr(&[]));
        assert!(!ends_with_sbr(&[0, 0]));
    }
}
