//! Levels and their changes, written and spoken.

use super::number::signed;
use crate::level::Level;

/// A level with so many decimals: `−29.0`, `−∞`, `–`.
#[must_use]
pub fn level(level: Level, decimals: usize) -> String {
    format!("{level:.decimals$}")
}

/// A difference of levels, with a plus where it rises: `+7.6`, `−0.7`, `0.0`, `−∞`, `–`.
#[must_use]
pub fn change(change: Level, decimals: usize) -> String {
    signed(change.db().unwrap_or(f64::NAN), decimals)
}

/// A level with its unit to a tenth, or what there is instead of one: `−29.0 dBFS`, `silence`,
/// `no reading`. For whoever is read to, and for sentences.
#[must_use]
pub fn spoken(of: Level, unit: &str) -> String {
    match of.db() {
        None => "no reading".into(),
        Some(db) if db == f64::NEG_INFINITY => "silence".into(),
        Some(_) => format!("{} {unit}", level(of, 1)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn silence_and_absence_are_told_apart() {
        let levels = [Level::from_db(-29.04), Level::SILENCE, Level::NONE];
        assert_eq!(levels.map(|of| level(of, 1)), ["−29.0", "−∞", "–"]);
        assert_eq!(levels.map(|of| change(of, 1)), ["−29.0", "−∞", "–"]);
        let spoken = levels.map(|of| spoken(of, "dBFS"));
        assert_eq!(spoken, ["−29.0 dBFS", "silence", "no reading"]);
    }
}
