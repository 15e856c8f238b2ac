//! What the mixer's own meter showed in each step, as the user typed it in, and how finely it could
//! be read.

use ledgerline_measure::sum_test::identification::LEAST_READINGS;
use ledgerline_measure::sum_test::{NoiseKind, Played, STEPS, ShownReading};
use serde::{Deserialize, Serialize};

/// How finely meters are read, in dB: tenths, halves and whole numbers, lamps 2 or 3 dB apart.
pub const RESOLUTIONS_DB: [f64; 5] = [0.1, 0.5, 1.0, 2.0, 3.0];
/// The highest and, negative, the lowest reading that a meter's scale can have, in dB.
pub const MOST_SHOWN_DB: f64 = 200.0;

/// What can have been played, and by which words it is chosen and saved: the sum test, noises of
/// one's own of unknown kind, or of a known one, which the loop plays as well.
pub const PLAYED: [(Played, &str); 5] = [
    (Played::Schedule, "test"),
    (Played::Own(None), "own"),
    (Played::Own(Some(NoiseKind::Uniform)), "uniform"),
    (Played::Own(Some(NoiseKind::Gaussian)), "Gaussian"),
    (Played::Own(Some(NoiseKind::Pink)), "pink"),
];

/// The readings typed in.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(from = "Saved", into = "Saved")]
pub struct Entries {
    /// By step, in dB on the meter's own scale. There is none in the null: what a meter shows there
    /// is the mixer's.
    pub shown_db: [Option<f64>; STEPS.len()],
    /// How finely the meter was read, in dB: one of [`RESOLUTIONS_DB`].
    pub resolution_db: f64,
    /// What was played while it was read: one of [`PLAYED`].
    pub played: Played,
}

impl Default for Entries {
    fn default() -> Self {
        Self { shown_db: [None; STEPS.len()], resolution_db: 1.0, played: Played::Schedule }
    }
}

impl Entries {
    /// Whether the step of this index in [`STEPS`] is asked for.
    #[must_use]
    pub fn asks_for(&self, index: usize) -> bool {
        has_reading(index) && self.played.has(STEPS[index].number)
    }

    /// What can be taken for a reading, in dB.
    #[must_use]
    pub fn possible(shown_db: f64) -> bool {
        shown_db.abs() <= MOST_SHOWN_DB
    }

    /// The readings there are of what is asked for.
    #[must_use]
    pub fn readings(&self) -> Vec<ShownReading> {
        let steps = (0..STEPS.len()).filter(|index| self.asks_for(*index));
        let reading = |index: usize| {
            let shown_db = self.shown_db[index]?;
            Some(ShownReading { step: STEPS[index].number, shown_db })
        };
        steps.filter_map(reading).collect()
    }

    /// How many readings are missing before anything can be told.
    #[must_use]
    pub fn missing(&self) -> usize {
        LEAST_READINGS.saturating_sub(self.readings().len())
    }

    /// The same choices without readings.
    #[must_use]
    pub fn cleared(&self) -> Self {
        Self { shown_db: [None; STEPS.len()], ..*self }
    }
}

/// Entries as they are saved: a reading or nothing for each step, in order.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Saved {
    shown_db: Vec<Option<f64>>,
    resolution_db: f64,
    /// The word of what was played, unless it is the sum test: earlier versions know of no other.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    played: Option<String>,
}

impl Saved {
    /// Whether everything in it can be an entry.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        let shown = self.shown_db.iter().enumerate();
        RESOLUTIONS_DB.contains(&self.resolution_db)
            && self.played.as_ref().is_none_or(|played| PLAYED.iter().any(|of| of.1 == played))
            && shown.filter_map(|(index, db)| db.map(|db| (index, db))).all(sound)
    }
}

/// Whether a reading can be one in the step of an index.
fn sound((index, shown_db): (usize, f64)) -> bool {
    has_reading(index) && Entries::possible(shown_db)
}

/// Whether the step of an index tells of a meter: the null does not.
fn has_reading(index: usize) -> bool {
    STEPS.get(index).is_some_and(|step| !step.is_null())
}

impl From<Entries> for Saved {
    fn from(entries: Entries) -> Self {
        let known = PLAYED.iter().find(|(played, _)| *played == entries.played);
        Self {
            shown_db: entries.shown_db.to_vec(),
            resolution_db: entries.resolution_db,
            played: known
                .filter(|(played, _)| *played != Played::Schedule)
                .map(|(_, word)| (*word).to_owned()),
        }
    }
}

impl From<Saved> for Entries {
    /// Takes what can be a reading and leaves the rest out.
    fn from(saved: Saved) -> Self {
        let mut entries = Self::default();
        for (index, shown_db) in saved.shown_db.into_iter().enumerate().take(STEPS.len()) {
            entries.shown_db[index] = shown_db.filter(|db| sound((index, *db)));
        }
        if RESOLUTIONS_DB.contains(&saved.resolution_db) {
            entries.resolution_db = saved.resolution_db;
        }
        if let Some(of) = PLAYED.iter().find(|of| Some(of.1) == saved.played.as_deref()) {
            entries.played = of.0;
        }
        entries
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_are_those_typed_in_under_their_steps_numbers() {
        let mut entries = Entries::default();
        assert_eq!(entries.missing(), 3);
        (entries.shown_db[0], entries.shown_db[2]) = (Some(-24.0), Some(-17.5));
        let readings = entries.readings();
        assert_eq!(readings[1], ShownReading { step: 3, shown_db: -17.5 });
        assert_eq!((readings.len(), entries.missing()), (2, 1));
        assert_eq!(entries.cleared(), Entries::default());
        entries.shown_db[12] = Some(-30.0);
        assert_eq!(entries.missing(), 0);
        entries.played = Played::Own(None);
        assert_eq!(entries.missing(), 1, "noises of one's own have no bursts");
        let saved = serde_json::to_string(&entries).unwrap();
        assert_eq!(serde_json::from_str::<Entries>(&saved).unwrap(), entries);
    }

    #[test]
    fn what_no_meter_shows_is_left_out_of_saved_entries() {
        let saved = |text: &str| Entries::from(serde_json::from_str::<Saved>(text).unwrap());
        let entries = saved(r#"{"shown_db":[-24,1e9,null,-3,5.5],"resolution_db":0.5}"#);
        assert_eq!(entries.shown_db[..5], [Some(-24.0), None, None, None, Some(5.5)]);
        assert_eq!(entries.resolution_db, 0.5);
        assert_eq!(saved(r#"{"shown_db":[],"resolution_db":-1}"#), Entries::default());
        let long = format!(r#"{{"shown_db":[{}1],"resolution_db":1}}"#, "1,".repeat(40));
        assert_eq!(saved(&long).shown_db.iter().flatten().count(), STEPS.len() - 1);
    }
}
