//! Counts of things.

use std::cmp::Ordering;

use super::NONE;

/// A space that is narrow and keeps what it parts on one line.
const NARROW_SPACE: char = '\u{202f}';

/// A count, its thousands set apart: `1 204`, `–`.
#[must_use]
pub fn count(count: Option<u64>) -> String {
    let Some(count) = count else { return NONE.into() };
    let digits = count.to_string();
    let mut text = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            text.push(NARROW_SPACE);
        }
        text.push(digit);
    }
    text
}

/// How many more there are of something, with its sign: `+3`, `−12`, `0`, `–`. `write` writes the
/// count itself.
#[must_use]
pub fn signed_count(more: Option<i64>, write: impl Fn(Option<u64>) -> String) -> String {
    let Some(more) = more else { return NONE.into() };
    let sign = match more.cmp(&0) {
        Ordering::Less => "−",
        Ordering::Equal => "",
        Ordering::Greater => "+",
    };
    format!("{sign}{}", write(Some(more.unsigned_abs())))
}

/// A count of things: `1 over`, `3 overs`.
#[must_use]
pub fn counted(number: u64, one: &str, many: &str) -> String {
    format!("{} {}", count(Some(number)), if number == 1 { one } else { many })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thousands_stand_apart() {
        assert_eq!(count(Some(999)), "999");
        assert_eq!(count(Some(1_204_000)), "1\u{202f}204\u{202f}000");
        assert_eq!(count(None), "–");
    }

    #[test]
    fn one_is_singular_and_everything_else_is_not() {
        let samples = [0, 1, 2, 1_204].map(|number| counted(number, "sample", "samples"));
        assert_eq!(samples, ["0 samples", "1 sample", "2 samples", "1\u{202f}204 samples"]);
    }

    #[test]
    fn a_difference_of_counts_has_a_sign() {
        let counts = [Some(3), Some(0), Some(-1_204), None].map(|more| signed_count(more, count));
        assert_eq!(counts, ["+3", "0", "−1\u{202f}204", "–"]);
    }
}
