//! Numbers: so many decimals, a true minus sign (U+2212), no sign on what rounds to zero, and a
//! defined text for silence (`−∞`) and for what does not exist (`–`).

use crate::level::Level;

/// A number with so many decimals: `7.0`, `−0.4`, `0.0`, `−∞`, `–`.
#[must_use]
pub fn fixed(number: f64, decimals: usize) -> String {
    format!("{:.decimals$}", Level::from_db(number))
}

/// The same with a plus where it is positive: `+7.6`, `−0.7`, `0.0`.
#[must_use]
pub fn signed(number: f64, decimals: usize) -> String {
    let text = fixed(number, decimals);
    let rises = number > 0.0 && text.bytes().any(|b| (b'1'..=b'9').contains(&b));
    if rises { format!("+{text}") } else { text }
}

/// A signed number with one decimal, and its error behind it where that is more than a tenth: `−3.0`,
/// `−2.8 ± 0.3`.
#[must_use]
pub fn with_error(number: f64, error: f64) -> String {
    let text = signed(number, 1);
    if error > 0.1 { format!("{text} ± {}", fixed((10.0 * error).ceil() / 10.0, 1)) } else { text }
}

/// A number in as many digits as it needs, as somebody typed it: `0.5`, `−17.5`, `3`.
#[must_use]
pub fn plain(number: f64) -> String {
    if number.is_finite() { number.to_string().replace('-', "−") } else { fixed(number, 0) }
}

/// How far a figure with two decimals may be off, rounded up: `0.01`, `0.27`.
#[must_use]
pub fn uncertainty(of: f64) -> String {
    fixed((100.0 * of).ceil().max(1.0) / 100.0, 2)
}

/// How far apart two levels are, where the words around it say which is higher: `7.6 dB`.
#[must_use]
pub fn distance(db: f64) -> String {
    format!("{} dB", fixed(db.abs(), 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sign_stands_only_before_what_is_not_nothing() {
        let numbers = [7.6, -0.71, 0.004, -0.004, f64::NEG_INFINITY, f64::NAN];
        let signs = numbers.map(|number| signed(number, 2));
        assert_eq!(signs, ["+7.60", "−0.71", "0.00", "0.00", "−∞", "–"]);
        assert_eq!(numbers.map(|number| fixed(number, 0)), ["8", "−1", "0", "0", "−∞", "–"]);
    }

    #[test]
    fn an_error_is_told_where_it_is_more_than_the_last_digit() {
        let told = [0.04, 0.1, 0.11, 0.3].map(|error| with_error(-2.78, error));
        assert_eq!(told, ["−2.8", "−2.8", "−2.8 ± 0.2", "−2.8 ± 0.3"]);
    }

    #[test]
    fn what_was_typed_keeps_its_digits() {
        assert_eq!([-17.5, 3.0, 0.1].map(plain), ["−17.5", "3", "0.1"]);
    }
}
