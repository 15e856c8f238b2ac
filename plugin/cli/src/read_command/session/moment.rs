//! What a row or a full reading says of one moment. A row has short keys, which the log's first line
//! explains by places in a full reading (JSON pointers).

use std::collections::HashMap;

use ledgerline_measure::Level;
use ledgerline_measure::history::HistoryLevels;
use serde_json::Value;

/// One band of the bus.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Band {
    /// Held since reset.
    pub(super) sample_peak_dbfs: Level,
    /// Held since reset.
    pub(super) true_peak_dbtp: Level,
    /// Since reset.
    pub(super) integrated_lufs: Level,
    /// Over the latest windows.
    pub(super) latest: [Level; 4],
}

impl Band {
    /// What a row of the history holds.
    pub(super) fn history(&self) -> HistoryLevels {
        let [momentary_lufs, short_term_lufs, sample_peak_dbfs, rms_dbfs] = self.latest;
        HistoryLevels {
            momentary_lufs,
            short_term_lufs,
            sample_peak_dbfs,
            // A log tells it since reset alone.
            true_peak_dbtp: Level::NONE,
            rms_dbfs,
        }
    }
}

/// The bus at one moment.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Moment {
    /// Seconds since reset.
    pub(super) time_s: f64,
    pub(super) whole: Band,
    pub(super) audible: Band,
    /// Since reset, like all below.
    pub(super) above_dbfs: Level,
    pub(super) below_dbfs: Level,
    pub(super) room_db: Level,
    pub(super) true_room_db: Level,
    pub(super) overs: Option<u64>,
}

impl Moment {
    /// Of a row, by the keys that the log's first line names.
    pub(super) fn of_row(row: &Value, keys: &Keys) -> Option<Self> {
        Self::by(row, |place| keys.0.get(place).and_then(|key| row.get(key)))
    }

    /// Of a full reading.
    pub(super) fn of_reading(reading: &Value) -> Option<Self> {
        Self::by(reading, |place| reading.pointer(place))
    }

    /// None where the line has no time that a reading can have.
    fn by<'a>(line: &Value, find: impl Fn(&str) -> Option<&'a Value>) -> Option<Self> {
        /// Longer than anything runs: thirty years.
        const LONGEST_S: f64 = 1e9;
        let level = |place: &str| find(place).map_or(Level::NONE, as_level);
        let band = |name: &str| {
            let bus = |key: &str| level(&format!("/{name}/bus/{key}"));
            let window = |key: &str| level(&format!("/windows/{name}/bus/{key}"));
            Band {
                sample_peak_dbfs: bus("sample_peak_dbfs"),
                true_peak_dbtp: bus("true_peak_dbtp"),
                integrated_lufs: bus("integrated_lufs"),
                latest: [
                    bus("momentary_lufs"),
                    bus("short_term_lufs"),
                    window("sample_peak_dbfs"),
                    window("rms_dbfs"),
                ],
            }
        };
        let time_s = super::number(&line["time_s"])?;
        (0.0..=LONGEST_S).contains(&time_s).then(|| Self {
            time_s,
            whole: band("whole"),
            audible: band("audible"),
            above_dbfs: level("/hidden/above_dbfs"),
            below_dbfs: level("/hidden/below_dbfs"),
            room_db: level("/room/room_db"),
            true_room_db: level("/room/true_room_db"),
            overs: find("/whole/bus/overs").and_then(Value::as_u64),
        })
    }

    /// Whether there was a reset between an earlier moment and this one: the time or what is held
    /// since reset has fallen.
    pub(super) fn is_reset_after(&self, earlier: &Self) -> bool {
        /// Rows are rounded.
        const ROUNDING_DB: f64 = 0.011;
        let peaks = [self, earlier].map(|moment| moment.whole.sample_peak_dbfs.db());
        let peak_fell = matches!(peaks, [Some(now), Some(then)] if now < then - ROUNDING_DB);
        let overs_fell =
            matches!((self.overs, earlier.overs), (Some(now), Some(then)) if now < then);
        self.time_s < earlier.time_s || overs_fell || peak_fell
    }
}

/// The rows' keys by the places that they stand for.
pub(super) struct Keys(HashMap<String, String>);

impl Keys {
    /// From a log's first line.
    pub(super) fn of(first: &Value) -> Self {
        let names = first["row"].as_object().into_iter().flatten();
        let places = names.filter_map(|(key, place)| Some((place.as_str()?.into(), key.clone())));
        Self(places.collect())
    }
}

/// A level as records have it: a number, `"-inf"`, or `null`.
pub(super) fn as_level(of: &Value) -> Level {
    /// Above and below this lies no ratio of two samples.
    const MOST_DB: f64 = 2000.0;
    match of.as_str() {
        Some("-inf") => Level::SILENCE,
        _ => {
            let db = super::number(of).filter(|db| db.abs() <= MOST_DB);
            db.map_or(Level::NONE, Level::from_db)
        }
    }
}
