//! Several packets in one block (RFC 9559, 10.3).

use super::ebml::number;

/// The packets of a block, whose flags are given; none where the sizes make no sense.
pub(super) fn packets(flags: u8, body: &[u8]) -> Option<Vec<&[u8]>> {
    let (sizes, body) = match flags >> 1 & 3 {
        0 => return Some(vec![body]),
        1 => by_sums(body)?,
        2 => return equal(body),
        _ => by_differences(body)?,
    };
    let mut rest = body;
    let mut packets = Vec::with_capacity(sizes.len() + 1);
    for size in sizes {
        let (packet, behind) = rest.split_at_checked(size)?;
        packets.push(packet);
        rest = behind;
    }
    packets.push(rest);
    Some(packets)
}

fn equal(body: &[u8]) -> Option<Vec<&[u8]>> {
    let (more, body) = body.split_first()?;
    let count = usize::from(*more) + 1;
    let size = body.len() / count;
    (size > 0 && body.len() % count == 0).then(|| body.chunks_exact(size).collect())
}

/// Sizes as in Ogg: bytes that are added up as long as they are 255.
fn by_sums(body: &[u8]) -> Option<(Vec<usize>, &[u8])> {
    let (more, mut rest) = body.split_first()?;
    let mut sizes = Vec::new();
    for _ in 0..*more {
        let mut size = 0;
        loop {
            let (byte, behind) = rest.split_first()?;
            rest = behind;
            size += usize::from(*byte);
            if *byte != 255 {
                break;
            }
        }
        sizes.push(size);
    }
    Some((sizes, rest))
}

/// The first size as a number, each other as the difference to the one before.
fn by_differences(body: &[u8]) -> Option<(Vec<usize>, &[u8])> {
    let (more, mut rest) = body.split_first()?;
    let mut sizes: Vec<usize> = Vec::new();
    for _ in 0..*more {
        let (value, behind) = number(rest)?;
        let bytes = rest.len() - behind.len();
        rest = behind;
        let size = match sizes.last() {
            None => i64::try_from(value).ok()?,
            Some(last) => {
                let middle = (1i64 << (7 * bytes - 1)) - 1;
                i64::try_from(*last).ok()? + i64::try_from(value).ok()? - middle
            }
        };
        sizes.push(usize::try_from(size).ok()?);
    }
    Some((sizes, rest))
}

#[cfg(test)]
mod tests {
    use super::packets;

    #[test]
    fn every_kind_of_lacing_gives_its_packets() {
        let three: [&[u8]; 3] = [b"abc", b"d", b"ef"];
        assert_eq!(packets(0, b"abc"), Some(vec![&b"abc"[..]]));
        assert_eq!(packets(2, b"\x02\x03\x01abcdef"), Some(three.to_vec()));
        assert_eq!(packets(6, b"\x02\x83\xBDabcdef"), Some(three.to_vec()));
        assert_eq!(packets(4, b"\x01abcd"), Some(vec![&b"ab"[..], b"cd"]));
        let long = [&[2, 255, 1, 1][..], &[7; 256], b"xy"].concat();
        assert_eq!(packets(2, &long).map(|all| all[0].len()), Some(256));
        for (flags, body) in [(2, &b"\x01\x09abc"[..]), (4, b"\x01abc"), (6, b"\x02\x81\x80ab")] {
            assert_eq!(packets(flags, body), None);
        }
    }
}
