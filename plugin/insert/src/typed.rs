//! What users type: levels and frequencies as they are written in several countries and by hosts.

/// A level in decibels: `3`, `-17.5`, `−17,5`, `+4`, with or without `dB` behind it. `None` where
/// it is no number.
#[must_use]
pub fn decibels(text: &str) -> Option<f64> {
    number(without_unit(text, "db"))
}

/// A frequency in hertz: `16000`, `16000 Hz`, `16 kHz`, `16k`, `22,05 kHz`. `None` where it is no
/// number.
#[must_use]
pub fn frequency_hz(text: &str) -> Option<f64> {
    let bare = without_unit(text, "hz");
    let thousands = without_unit(bare, "k");
    let factor = if thousands.len() < bare.len() { 1e3 } else { 1.0 };
    number(thousands).map(|value| value * factor)
}

/// A number in some unit, which may be left out: a frequency as [`frequency_hz`] takes it, anything
/// else with the unit itself behind it.
#[must_use]
pub fn in_unit(text: &str, unit: &str) -> Option<f64> {
    if unit == "Hz" { frequency_hz(text) } else { number(without_unit(text, unit)) }
}

/// The text without a unit at its end, in whichever case, and without blanks around it.
fn without_unit<'a>(text: &'a str, unit: &str) -> &'a str {
    let text = text.trim();
    let Some(start) = text.len().checked_sub(unit.len()) else { return text };
    match (text.get(..start), text.get(start..)) {
        (Some(value), Some(end)) if end.eq_ignore_ascii_case(unit) => value.trim_end(),
        _ => text,
    }
}

/// A number in digits. What only programs write (`1e5`, `inf`) is taken for a slip.
fn number(text: &str) -> Option<f64> {
    let plain: String = text
        .chars()
        .map(|c| match c {
            // The true minus sign, and the dash that often stands in for it.
            '\u{2212}' | '\u{2013}' => '-',
            ',' => '.',
            c => c,
        })
        .collect();
    let digits = plain.chars().all(|c| c.is_ascii_digit() || matches!(c, '-' | '+' | '.'));
    plain.parse().ok().filter(|_| digits)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_are_read_with_every_minus_sign_and_decimal_mark() {
        for (text, db) in [
            ("3", 3.0),
            ("+4", 4.0),
            ("-17.5", -17.5),
            ("−17.5", -17.5),
            ("–17,5", -17.5),
            (" -17,5 dB ", -17.5),
            ("-18DB", -18.0),
            (".5", 0.5),
            ("-0", 0.0),
        ] {
            assert_eq!(decibels(text), Some(db), "{text}");
        }
    }

    #[test]
    fn a_unit_may_stand_behind_its_number() {
        assert_eq!(in_unit("3,5 s", "s"), Some(3.5));
        assert_eq!(in_unit("−23 lufs", "LUFS"), Some(-23.0));
        assert_eq!(in_unit("16k", "Hz"), Some(16_000.0));
        assert_eq!(in_unit("16k", "dB"), None);
    }

    #[test]
    fn what_is_no_level_is_none() {
        for text in [
            "", " ", "-", "−", "x", "1e5", "inf", "-inf", "nan", "1.2.3", "1,234.5", "--3", "3 4",
            "dB", "3 V",
        ] {
            assert_eq!(decibels(text), None, "{text}");
        }
    }

    #[test]
    fn frequencies_are_read_with_and_without_thousands() {
        for (text, hz) in [
            ("16000", 16_000.0),
            ("16000 Hz", 16_000.0),
            ("16 kHz", 16_000.0),
            ("16khz", 16_000.0),
            ("16k", 16_000.0),
            ("16 K", 16_000.0),
            ("22,05 kHz", 22_050.0),
            ("20", 20.0),
        ] {
            assert_eq!(frequency_hz(text), Some(hz), "{text}");
        }
        for text in ["", "k", "kHz", "Hz", "16 MHz", "sixteen", "ß", "16 kß"] {
            assert_eq!(frequency_hz(text), None, "{text}");
        }
    }
}
