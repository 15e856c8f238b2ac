//! The words of the decorrelation time.

use super::{Decorrelation, DecorrelationTime, LONGEST_MS};
use crate::words::{duration, fixed};

/// It in plain words, the audible band first.
pub(super) fn of(decorrelation: &Decorrelation) -> Option<String> {
    let &Decorrelation { whole, audible } = decorrelation;
    let longest = format!("{} ms", fixed(LONGEST_MS, 0));
    let time = |time| match time {
        DecorrelationTime::Unknown => None,
        DecorrelationTime::Ms(ms) => Some(duration(ms / 1e3)),
        DecorrelationTime::Longer => Some(format!("longer than {longest}")),
    };
    let first = match audible {
        DecorrelationTime::Unknown => {
            return time(whole).map(|whole| {
                format!(
                    "Decorrelation time: {whole} in the whole band. Of the audible band it cannot be \
                     told from so little sound."
                )
            });
        }
        DecorrelationTime::Ms(ms) => format!(
            "Decorrelation time: a copy of this sound has to come at least {} late to add like an \
             independent one",
            duration(ms / 1e3)
        ),
        DecorrelationTime::Longer => format!(
            "Decorrelation time: no delay up to {longest} makes a copy of this sound add like an \
             independent one"
        ),
    };
    Some(match time(whole) {
        _ if whole == audible => format!("{first}."),
        Some(whole) => format!("{first}; with what lies outside the audible band: {whole}."),
        None => format!("{first}; with what lies outside the audible band it cannot be told."),
    })
}
