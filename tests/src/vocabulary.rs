//! One vocabulary: which word stands for a thing, and which do not. Whatever the product says is held
//! against it, output and sources alike.

pub mod sources;

/// The word for a thing, and those that are not used for it. Lower case; a phrase ends where letters
/// and digits end.
pub const WORDS: &[(&str, &[&str])] = &[
    ("audible room", &["true room", "real room"]),
    (
        "your meter shows",
        &["the box claims", "your box", "meter claims", "room claimed", "room (claimed)"],
    ),
    ("less room than a sample-peak meter shows", &["room overstated", "overstates the room"]),
    (
        "inverted",
        &[
            "polarity turned",
            "turned in polarity",
            "polarity is turned",
            "turn the polarity",
            "turns the polarity",
            "with its polarity turned",
        ],
    ),
    ("lower", &["softer", "quieter"]),
    (
        "audible, inaudible",
        &["nobody hears", "can be heard", "is heard", "are heard", "above hearing"],
    ),
    ("sum if identical", &["coherent sum", "coherent"]),
    ("sum if independent", &["power sum", "if indep", "if indep."]),
    ("L over R", &["first less second half", "a over b"]),
    ("null L − R", &["a less b", "a − b"]),
    ("L + R", &["a + b", "a with b", "half b"]),
    ("flat tops", &["clipped runs", "clipped run"]),
    ("wrong spots", &["wrong samples"]),
    ("mixed over", &["laid over it", "something laid over", "something else plays over"]),
    ("missing at the start", &["start trimmed", "start missing"]),
    ("missing at the end", &["end trimmed", "end missing"]),
    ("with shaped dither", &["shaped noise", "with shaped noise"]),
    ("cannot tell", &["no answer", "no verdict"]),
    ("needle", &["average needle"]),
    ("RMS reference", &["rms reads"]),
    ("high-pass, low-pass", &["highpass", "lowpass", "high pass", "low pass", "filter out"]),
    ("inter-sample peak", &["intersample", "inter-sample over"]),
    ("the audible room allows …", &["of which"]),
];

/// What a text says in words that are not used, a sentence each.
#[must_use]
pub fn wrong_words(text: &str) -> Vec<String> {
    let lower = text.to_lowercase();
    let banned =
        WORDS.iter().flat_map(|(used, others)| others.iter().map(move |other| (used, other)));
    let mut wrong: Vec<String> = banned
        .filter(|(_, other)| has_phrase(&lower, other))
        .map(|(used, other)| format!("“{other}” where “{used}” is the word: {text}"))
        .collect();
    if names_a_half_by_its_key(text) {
        wrong.push(format!("a half by its key in records: {text}"));
    }
    wrong
}

/// The same, and what it writes in numbers that are not written so.
#[must_use]
pub fn wrong(text: &str) -> Vec<String> {
    let mut wrong = wrong_words(text);
    let characters: Vec<char> = text.chars().collect();
    let before = |index: usize| index.checked_sub(1).map(|before| characters[before]);
    for (index, pair) in characters.windows(2).enumerate() {
        let minus = pair[0] == '-' && pair[1].is_ascii_digit();
        // Not the hyphen of BS.1770-5 or of a range of numbers.
        if minus && !before(index).is_some_and(char::is_alphanumeric) {
            wrong.push(format!("a hyphen for a minus: {text}"));
        }
    }
    for nothing in ["−0.0 ", "−0.00 ", "−0 "] {
        if text.contains(nothing) {
            wrong.push(format!("a sign on nothing: {text}"));
        }
    }
    if text.split(|c: char| !(c.is_ascii_digit() || c == ':' || c == '.')).any(has_too_many_minutes)
    {
        wrong.push(format!("a moment without its hours: {text}"));
    }
    if trailing_zero_kilohertz(text) {
        wrong.push(format!("a frequency with a zero too many: {text}"));
    }
    wrong
}

/// Whether a text holds a phrase with no letter or digit against its ends.
fn has_phrase(lower: &str, phrase: &str) -> bool {
    let is_inside = |c: char| c.is_alphanumeric() || c == '_';
    lower.match_indices(phrase).any(|(at, _)| {
        let behind = &lower[at + phrase.len()..];
        !lower[..at].ends_with(is_inside) && !behind.starts_with(is_inside)
    })
}

/// Whether a B stands alone, as it does for a half and for nothing else.
fn names_a_half_by_its_key(text: &str) -> bool {
    text.split(|c: char| !(c.is_alphanumeric() || matches!(c, '_' | '\'' | '.')))
        .any(|word| word == "B")
}

/// Whether a clock's minutes run past the hour: `75:00.000`.
fn has_too_many_minutes(token: &str) -> bool {
    let parts: Vec<&str> = token.split(':').collect();
    matches!(parts[..], [minutes, seconds]
        if seconds.len() >= 2 && minutes.parse::<u32>().is_ok_and(|minutes| minutes >= 60))
}

/// Whether kilohertz end in a zero that says nothing: `16.0 kHz`.
fn trailing_zero_kilohertz(text: &str) -> bool {
    text.match_indices(" kHz").any(|(at, _)| {
        let number = text[..at].rsplit(|c: char| !(c.is_ascii_digit() || c == '.')).next();
        number.is_some_and(|number| number.contains('.') && number.ends_with('0'))
    })
}

/// Panics with everything that texts say wrongly.
///
/// # Panics
///
/// When there is something, or when there are no texts.
pub fn check<T: AsRef<str>>(what: &str, texts: impl IntoIterator<Item = T>) -> usize {
    let mut seen = 0;
    let mut found: Vec<String> = Vec::new();
    for text in texts {
        seen += 1;
        found.extend(wrong(text.as_ref()));
    }
    assert!(seen > 0, "{what}: nothing was read");
    assert!(found.is_empty(), "{what}:\n{}", found.join("\n"));
    seen
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_that_is_not_used_is_found_where_it_is_planted() {
        for other in WORDS.iter().flat_map(|(_, others)| others.iter()) {
            let planted = format!("The meter reads this: {other}, and goes on.");
            let found =
                wrong(&planted).iter().any(|wrong| wrong.starts_with(&format!("“{other}”")));
            assert!(found, "{planted}: {:?}", wrong(&planted));
        }
    }

    #[test]
    fn numbers_that_are_not_written_so_are_found() {
        for planted in [
            "It lies at -3.0 dBFS.",
            "(-3 dB)",
            "−0.0 dB are withheld.",
            "It was cut at 75:00.000 of the mix.",
            "The path ends at 16.0 kHz.",
            "B is later.",
            "A + B",
        ] {
            assert!(!wrong(planted).is_empty(), "{planted}");
        }
    }

    #[test]
    fn what_is_well_said_is_left_alone() {
        for said in [
            "Your meter shows 9.0 dB of room, but the audible room is −4.6 dB.",
            "ITU-R BS.1770-5, IEC 60268-17, 22.05 kHz, 20 kHz, 1:15:00.000, 59:07.3",
            "The key true_room_db stays, and so do 64-bit floats and 3-5 of them.",
            "A limiter worked; the halves are L and R.",
        ] {
            assert_eq!(wrong(said), Vec::<String>::new());
        }
    }
}
