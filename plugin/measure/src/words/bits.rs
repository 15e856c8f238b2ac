//! Lengths of words.

/// The word that samples are stored in: `24 bits`, or that they are no integers.
#[must_use]
pub fn bits(bits: Option<u32>) -> String {
    bits.map_or("floating point".into(), |bits| format!("{bits} bits"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_has_no_word_is_floating_point() {
        assert_eq!([Some(24), None].map(bits), ["24 bits", "floating point"]);
    }
}
