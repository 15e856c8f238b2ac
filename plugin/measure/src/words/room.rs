//! What the readings of room are called. Room that a meter shows and the audible band does not leave
//! is no negative withheld room on a screen: it is less room than the meter shows.

use super::level::{change, level};
use crate::level::Level;

/// Ceiling less the highest sample: what a meter shows.
pub const ROOM: &str = "room";
/// Ceiling less the audible true peak.
pub const AUDIBLE_ROOM: &str = "audible room";
/// True peak of left and right folded down to one.
pub const FOLD_DOWN: &str = "fold-down (L + R)/√2";
/// Audible room less room, in a column of both signs.
pub const WITHHELD: &str = "withheld";

/// One of the three lifts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lift {
    /// Target less the audible level.
    ToTarget,
    /// As much of it as the whole band's true peak allows as the mix stands.
    Now,
    /// As much of it as the audible room allows.
    AfterFilters,
}

/// A lift under the name that goes with its sign, with so many decimals: one that would be negative is
/// turned down by.
#[must_use]
pub fn lift(lift: Lift, lift_db: Level, decimals: usize) -> (&'static str, String) {
    let up = change(lift_db, decimals);
    let falls = up.starts_with('−');
    let name = match (lift, falls) {
        (Lift::ToTarget, false) => "lift to target",
        (Lift::ToTarget, true) => "turn down to target",
        (Lift::Now, false) => "lift now",
        (Lift::Now, true) => "turn down now",
        (Lift::AfterFilters, false) => "lift after filters",
        (Lift::AfterFilters, true) => "turn down after filters",
    };
    let number = match lift_db.finite() {
        Some(db) if falls => level(Level::from_db(-db), decimals),
        _ => up,
    };
    (name, number)
}

/// Audible room less room, as it is shown.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Withheld {
    /// What it is called.
    pub word: &'static str,
    /// The same where width is short.
    pub short: &'static str,
    /// So many decibels of it.
    pub number: String,
}

/// Audible room less room under the name that goes with its sign, with so many decimals.
#[must_use]
pub fn withheld(withheld_db: Level, decimals: usize) -> Withheld {
    let number = change(withheld_db, decimals);
    match withheld_db.finite() {
        Some(db) if number.starts_with('−') => Withheld {
            word: "less room than a sample-peak meter shows",
            short: "less than shown",
            number: level(Level::from_db(-db), decimals),
        },
        _ => Withheld { word: WITHHELD, short: WITHHELD, number },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn room_that_is_missing_is_no_negative_withheld_room() {
        let shown = |db| {
            let shown = withheld(Level::from_db(db), 1);
            (shown.word, shown.number)
        };
        assert_eq!(shown(7.6), (WITHHELD, "+7.6".into()));
        assert_eq!(shown(-4.4), ("less room than a sample-peak meter shows", "4.4".into()));
        assert_eq!(shown(-0.04), (WITHHELD, "0.0".into()));
        assert_eq!(shown(f64::NAN), (WITHHELD, "–".into()));
    }
}
