//! Damages files as transfers, crashes and bad software do, the same way for the same number.

use crate::signals::noise::hash;

/// Numbers that a parser may stumble over in a field of a size or a count.
const LIES: [u64; 12] = [
    0,
    1,
    2,
    0x7F,
    0xFF,
    0x7FFF,
    0xFFFF,
    0x7FFF_FFFF,
    0x8000_0000,
    0xFFFF_FFFF,
    0x7FFF_FFFF_FFFF_FFFF,
    0xFFFF_FFFF_FFFF_FFFF,
];

/// Where headers are, in bytes from either end of a file.
const HEADER_BYTES: usize = 512;

/// The file with one to four damages, chosen by `number`.
#[must_use]
pub fn mutate(file: &[u8], number: u64) -> Vec<u8> {
    let mut choice = Choice { number, drawn: 0 };
    let mut bytes = file.to_vec();
    for _ in 0..=choice.below(4) {
        damage(&mut bytes, &mut choice);
    }
    bytes
}

/// Draws of one mutation.
struct Choice {
    number: u64,
    drawn: u64,
}

impl Choice {
    fn below(&mut self, limit: usize) -> usize {
        self.drawn += 1;
        (hash(self.number, self.drawn) % limit.max(1) as u64) as usize
    }

    /// A place in the file, more often than not where its headers are.
    fn place(&mut self, length: usize) -> usize {
        let header = length.min(HEADER_BYTES);
        match self.below(5) {
            0 | 1 => self.below(header),
            2 => length - 1 - self.below(header),
            _ => self.below(length),
        }
    }

    /// A stretch of the file.
    fn stretch(&mut self, length: usize) -> std::ops::Range<usize> {
        let start = self.place(length);
        let longest = (length - start).min(1 << self.below(11));
        start..start + 1 + self.below(longest)
    }
}

fn damage(bytes: &mut Vec<u8>, choice: &mut Choice) {
    if bytes.is_empty() {
        return;
    }
    let length = bytes.len();
    match choice.below(10) {
        0 | 1 => {
            for _ in 0..=choice.below(8) {
                let at = choice.place(length);
                bytes[at] ^= 1 << choice.below(8);
            }
        }
        2 => {
            let at = choice.place(length);
            bytes[at] = LIES[choice.below(5)] as u8;
        }
        3 => bytes.truncate(choice.below(length)),
        4 | 5 => lie(bytes, choice),
        6 => swap(bytes, choice),
        7 => {
            let copy = bytes[choice.stretch(length)].to_vec();
            let at = choice.place(length);
            bytes.splice(at..at, copy);
        }
        8 => {
            let stretch = choice.stretch(length);
            bytes[stretch].fill(0);
        }
        _ => drop(bytes.drain(choice.stretch(length))),
    }
}

/// Overwrites a field of two, four or eight bytes; beside four letters, where there are any.
fn lie(bytes: &mut [u8], choice: &mut Choice) {
    let length = bytes.len();
    let mut at = choice.place(length);
    let is_name = |four: &[u8]| four.iter().all(u8::is_ascii_alphanumeric);
    if choice.below(2) == 0
        && let Some(name) = bytes[at..].windows(4).position(is_name)
    {
        // RIFF, AIFF and CAF write the size behind the name, MP4 before it.
        at = if choice.below(2) == 0 { at + name + 4 } else { (at + name).saturating_sub(4) };
    }
    let near = length as u64 + choice.below(3) as u64;
    let lie = if choice.below(4) == 0 { near } else { LIES[choice.below(LIES.len())] };
    let width = [2, 4, 4, 8][choice.below(4)];
    let field = if choice.below(2) == 0 {
        lie.to_le_bytes()[..width].to_vec()
    } else {
        lie.to_be_bytes()[8 - width..].to_vec()
    };
    for (byte, lie) in bytes.iter_mut().skip(at).zip(field) {
        *byte = lie;
    }
}

fn swap(bytes: &mut [u8], choice: &mut Choice) {
    let one = choice.stretch(bytes.len());
    let to = choice.below(bytes.len() - one.len() + 1);
    for step in 0..one.len() {
        bytes.swap(one.start + step, to + step);
    }
}
