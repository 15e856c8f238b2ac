//! Format tags of coded WAVE files.

use super::order::Order;
use crate::audio::companding::Curve;

/// The format tag, if the sound is coded and not linear.
///
/// Only the first bytes are looked at: a format chunk that comes behind much else belongs to a
/// program that writes linear samples.
pub(in crate::audio) fn coded_tag(head: &[u8]) -> Option<u16> {
    let order = Order::of(head);
    let mut rest = head.get(12..)?;
    loop {
        let size = order.word(rest.get(..8)?, 4) as usize;
        if rest.starts_with(b"fmt ") {
            let body = rest.get(8..)?;
            let body = &body[..body.len().min(size)];
            return match super::Format::parse(body, order).ok()?.coding {
                super::Coding::Tag(tag) => Some(tag),
                super::Coding::Linear(_) => None,
            };
        }
        rest = rest.get(8usize.checked_add(size)?.checked_add(size & 1)?..)?;
    }
}

/// The library decodes it within a RIFF file.
pub(in crate::audio) fn tag_is_decoded(tag: u16) -> bool {
    matches!(tag, 0x0002 | 0x0011)
}

/// What a tag is called.
pub(in crate::audio) fn tag_name(tag: u16) -> String {
    let name = match tag {
        0x0002 | 0x0011 => "ADPCM",
        0x0006 => Curve::A.name(),
        0x0007 => Curve::Mu.name(),
        0x0050 => "MPEG layer 2",
        0x0055 => "MP3 within a WAV file",
        0x00FF | 0x1600 | 0x1610 => "AAC",
        0x0160..=0x0163 => "WMA",
        0x2000 => "AC-3",
        0x2001 => "DTS",
        0xF1AC => "FLAC",
        0xFFFE => "a codec of its maker's own",
        other => return format!("codec 0x{other:04X}"),
    };
    name.to_owned()
}
