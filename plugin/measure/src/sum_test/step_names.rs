//! What a step is called where somebody types it: its number, or a short name.

use super::schedule::STEPS;

/// The names, in the order of [`STEPS`].
pub const STEP_NAMES: [&str; STEPS.len()] = [
    "alone",
    "other",
    "same",
    "inverted",
    "independent",
    "independent-inverted",
    "delayed",
    "hidden-tone",
    "low-tone",
    "gaussian",
    "pink",
    "tone",
    "bursts-100",
    "bursts-10",
    "bursts-1.5",
    "train",
];

/// How many of the first steps anybody can play with noises of their own.
pub const STEPS_OF_NOISES: usize = 7;

/// The number of the step that a word means: its number or its name, in small or capital letters.
#[must_use]
pub fn step_named(word: &str) -> Option<usize> {
    if let Ok(number) = word.parse::<usize>() {
        return (1..=STEPS.len()).contains(&number).then_some(number);
    }
    STEP_NAMES.iter().position(|name| name.eq_ignore_ascii_case(word)).map(|index| index + 1)
}

/// The name of the step of a number; its number where there is no such step.
#[must_use]
pub fn step_name(number: usize) -> String {
    let name = number.checked_sub(1).and_then(|index| STEP_NAMES.get(index));
    name.map_or_else(|| number.to_string(), |name| (*name).to_owned())
}
