//! What users type: levels, frequencies and durations as they are written in several countries and
//! by hosts. What can be read in two ways is not read at all.

/// Units that a level may have behind it. Which of them is meant, the place says where it is typed.
const LEVEL_UNITS: [&str; 6] = ["dBFS", "dBTP", "LUFS", "LKFS", "dB", "LU"];

/// A level in decibels: `3`, `-17.5`, `−17,5`, `+4`, with or without a unit of levels behind it.
/// `None` where it is no number.
#[must_use]
pub fn decibels(text: &str) -> Option<f64> {
    number(without_one_of(text, &LEVEL_UNITS))
}

/// A frequency in hertz: `16000`, `16000 Hz`, `16 kHz`, `16k`, `22,05 kHz`. `None` where it is no
/// number, and for `16,000`, which is a thousand times more in some countries than in others.
#[must_use]
pub fn frequency_hz(text: &str) -> Option<f64> {
    let bare = without_unit(text, "hz");
    let thousands = without_unit(bare, "k");
    if thousands.len() < bare.len() {
        return number(thousands).map(|value| value * 1e3);
    }
    let fraction = bare.rsplit_once(['.', ',']).map(|(_, digits)| digits);
    if fraction.is_some_and(|digits| digits.len() == 3) {
        return None;
    }
    number(bare)
}

/// A duration in seconds: `2.5`, `2,5 s`, `2.5 sec`, `500 ms`. `None` where it is no number.
#[must_use]
pub fn seconds(text: &str) -> Option<f64> {
    let thousandths = without_unit(text, "ms");
    if thousandths.len() < text.trim().len() {
        return number(thousandths).map(|value| value * 1e-3);
    }
    number(without_one_of(text, &["seconds", "second", "sec", "s"]))
}

/// A number in some unit, which may be left out: a frequency as [`frequency_hz`] takes it, a
/// duration as [`seconds`] does, anything else as a level.
#[must_use]
pub fn in_unit(text: &str, unit: &str) -> Option<f64> {
    match unit {
        "Hz" => frequency_hz(text),
        "s" => seconds(text),
        _ => decibels(text),
    }
}

/// Whether something is on: `on`, `yes`, `true`, `1`, and what is against it. `None` for anything
/// else.
#[must_use]
pub fn switch(text: &str) -> Option<bool> {
    let is = |word: &&str| text.trim().eq_ignore_ascii_case(word);
    if ["on", "yes", "true", "1"].iter().any(is) {
        return Some(true);
    }
    ["off", "no", "false", "0"].iter().any(is).then_some(false)
}

/// One of several things by its name or its id, in whichever case, without regard to blanks and
/// punctuation; or by as much of the beginning of its name as no other has. Gives its index.
#[must_use]
pub fn one_of(text: &str, names: &[&str], ids: &[&str]) -> Option<usize> {
    let typed = letters(text);
    let exact = |words: &[&str]| words.iter().position(|word| letters(word) == typed);
    if let Some(index) = exact(names).or_else(|| exact(ids)) {
        return Some(index);
    }
    let begins = |name: &&str| !typed.is_empty() && letters(name).starts_with(&typed);
    let mut found = names.iter().enumerate().filter(|(_, name)| begins(name));
    let index = found.next()?.0;
    found.next().is_none().then_some(index)
}

/// Letters and digits of a text in small letters, with the decimal marks between digits.
fn letters(text: &str) -> String {
    let plain: Vec<char> = text.to_lowercase().replace(',', ".").chars().collect();
    let digit = |index: Option<usize>| {
        index.and_then(|index| plain.get(index)).is_some_and(char::is_ascii_digit)
    };
    let kept = plain.iter().enumerate().filter(|&(index, &c)| {
        let mark = c == '.' && digit(index.checked_sub(1)) && digit(Some(index + 1));
        c.is_alphanumeric() || mark
    });
    kept.map(|(_, c)| c).collect()
}

/// The text without the first of these units that stands at its end.
fn without_one_of<'a>(text: &'a str, units: &[&str]) -> &'a str {
    let text = text.trim();
    let bare = units.iter().map(|unit| without_unit(text, unit));
    bare.into_iter().find(|bare| bare.len() < text.len()).unwrap_or(text)
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
            ("-3dB", -3.0),
            ("−1.5 dBTP", -1.5),
            ("-23 LUFS", -23.0),
            ("-20dbfs", -20.0),
            ("-1,5\u{a0}dB", -1.5),
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
    fn durations_are_read_in_seconds_and_thousandths() {
        for (text, s) in [
            ("2.5", 2.5),
            ("2,5 s", 2.5),
            ("2.5s", 2.5),
            ("2.5 sec", 2.5),
            ("3 seconds", 3.0),
            ("500 ms", 0.5),
            ("500ms", 0.5),
        ] {
            assert_eq!(seconds(text), Some(s), "{text}");
        }
        for text in ["", "s", "ms", "2 m", "2.5 dB", "two"] {
            assert_eq!(seconds(text), None, "{text}");
        }
    }

    #[test]
    fn one_of_a_list_is_found_by_name_by_id_and_by_a_beginning_that_no_other_has() {
        let (names, ids) = (["Off", "Feed 1", "Feed 2", "0.3 s"], ["off", "feed_1", "feed_2", "x"]);
        for (text, index) in [
            ("off", 0),
            ("Feed 1", 1),
            ("FEED2", 2),
            ("feed_2", 2),
            ("O", 0),
            ("0,3 s", 3),
            ("X", 3),
        ] {
            assert_eq!(one_of(text, &names, &ids), Some(index), "{text}");
        }
        for text in ["", " ", "feed", "Feed 3", "3 s", "offf"] {
            assert_eq!(one_of(text, &names, &ids), None, "{text}");
        }
    }

    #[test]
    fn a_switch_is_on_or_off_and_not_anything_else() {
        for (text, on) in
            [("On", true), (" yes ", true), ("1", true), ("OFF", false), ("no", false)]
        {
            assert_eq!(switch(text), Some(on), "{text}");
        }
        for text in ["", "x", "2", "onn"] {
            assert_eq!(switch(text), None, "{text}");
        }
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
        for text in ["", "k", "kHz", "Hz", "16 MHz", "sixteen", "ß", "16 kß", "16,000", "16.000 Hz"]
        {
            assert_eq!(frequency_hz(text), None, "{text}");
        }
    }
}
