//! A row of the log: what the latest second of a reading says, in short keys. Each key stands for a
//! place in the full reading (a JSON pointer, RFC 6901), named once in the file's first line.

use ledgerline_measure::reading::Levels;
use ledgerline_measure::{Level, Reading};
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};

use crate::sum_test::record::SumTestRecord;

/// Name and version of the first line's shape.
const LOG_SCHEMA: &str = "ledgerline.log/1";
/// Name and version of a row's shape.
const ROW_SCHEMA: &str = "ledgerline.row/1";
/// Name and version of the shape of the line where a reset is undone.
const UNDO_SCHEMA: &str = "ledgerline.undo/1";

/// What a row can hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Cell {
    /// Rounded to two decimals.
    Level(Level),
    /// Rounded to three decimals; none where there is no such reading.
    Ratio(Option<f64>),
    Count(Option<u64>),
}

/// A key, the place in the reading that it stands for, and how it is found there.
type Column = (&'static str, &'static str, fn(&Reading) -> Cell);

/// Every column: `w` is the whole band, `a` the audible band. Levels of A, B and the sum are over
/// the RMS window, like `wr`.
pub(super) const COLUMNS: [Column; 27] = [
    ("wp", "/whole/bus/sample_peak_dbfs", |r| Cell::Level(r.whole.bus.sample_peak_dbfs)),
    ("wt", "/whole/bus/true_peak_dbtp", |r| Cell::Level(r.whole.bus.true_peak_dbtp)),
    ("wh", "/windows/whole/bus/sample_peak_dbfs", |r| {
        Cell::Level(r.windows.whole.bus.sample_peak_dbfs)
    }),
    ("wr", "/windows/whole/bus/rms_dbfs", |r| Cell::Level(r.windows.whole.bus.rms_dbfs)),
    ("wa", "/windows/whole/a/rms_dbfs", |r| Cell::Level(r.windows.whole.a.rms_dbfs)),
    ("wb", "/windows/whole/b/rms_dbfs", |r| Cell::Level(r.windows.whole.b.rms_dbfs)),
    ("wu", "/windows/whole/sum/rms_dbfs", |r| Cell::Level(r.windows.whole.sum.rms_dbfs)),
    ("wm", "/whole/bus/momentary_lufs", |r| Cell::Level(r.whole.bus.momentary_lufs)),
    ("ws", "/whole/bus/short_term_lufs", |r| Cell::Level(r.whole.bus.short_term_lufs)),
    ("wi", "/whole/bus/integrated_lufs", |r| Cell::Level(r.whole.bus.integrated_lufs)),
    ("ap", "/audible/bus/sample_peak_dbfs", |r| Cell::Level(r.audible.bus.sample_peak_dbfs)),
    ("at", "/audible/bus/true_peak_dbtp", |r| Cell::Level(r.audible.bus.true_peak_dbtp)),
    ("ah", "/windows/audible/bus/sample_peak_dbfs", |r| {
        Cell::Level(r.windows.audible.bus.sample_peak_dbfs)
    }),
    ("ar", "/windows/audible/bus/rms_dbfs", |r| Cell::Level(r.windows.audible.bus.rms_dbfs)),
    ("aa", "/windows/audible/a/rms_dbfs", |r| Cell::Level(r.windows.audible.a.rms_dbfs)),
    ("ab", "/windows/audible/b/rms_dbfs", |r| Cell::Level(r.windows.audible.b.rms_dbfs)),
    ("au", "/windows/audible/sum/rms_dbfs", |r| Cell::Level(r.windows.audible.sum.rms_dbfs)),
    ("am", "/audible/bus/momentary_lufs", |r| Cell::Level(r.audible.bus.momentary_lufs)),
    ("as", "/audible/bus/short_term_lufs", |r| Cell::Level(r.audible.bus.short_term_lufs)),
    ("ai", "/audible/bus/integrated_lufs", |r| Cell::Level(r.audible.bus.integrated_lufs)),
    ("c", "/windows/whole/halves/correlation", |r| Cell::Ratio(r.windows.whole.halves.correlation)),
    ("o", "/whole/bus/overs", |r| Cell::Count(overs(&r.whole.bus))),
    ("x", "/hidden/above_dbfs", |r| Cell::Level(r.hidden.above_dbfs)),
    ("y", "/hidden/below_dbfs", |r| Cell::Level(r.hidden.below_dbfs)),
    ("r", "/room/room_db", |r| Cell::Level(r.room.room_db)),
    ("t", "/room/true_room_db", |r| Cell::Level(r.room.true_room_db)),
    ("m", "/your_meter/shows_db", |r| {
        Cell::Level(r.your_meter.map_or(Level::NONE, |read| read.shows_db))
    }),
];

fn overs(levels: &Levels) -> Option<u64> {
    levels.overs
}

impl Serialize for Cell {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match *self {
            Self::Level(level) => match level.finite() {
                Some(db) => serializer.serialize_f64(rounded(db, 100.0)),
                None => level.serialize(serializer),
            },
            Self::Ratio(ratio) => ratio.map(|ratio| rounded(ratio, 1000.0)).serialize(serializer),
            Self::Count(count) => count.serialize(serializer),
        }
    }
}

/// Never a negative zero.
fn rounded(value: f64, parts: f64) -> f64 {
    (value * parts).round() / parts + 0.0
}

/// A row, to be written.
pub(super) struct Row<'a> {
    pub reading: &'a Reading,
    /// When it is written (RFC 3339): what puts the rows of several instances on one axis.
    pub utc: &'a str,
    /// Where the host's transport stands, in seconds.
    pub host_s: Option<f64>,
    /// The sum test, where it has changed: `Some(None)` where there is none any more.
    pub sum_test: Option<Option<&'a SumTestRecord>>,
}

impl Serialize for Row<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("schema", ROW_SCHEMA)?;
        map.serialize_entry("time_s", &rounded(self.reading.time_s, 10_000.0))?;
        map.serialize_entry("utc", self.utc)?;
        map.serialize_entry("host_s", &self.host_s.map(|s| rounded(s, 10_000.0)))?;
        for (key, _, cell) in COLUMNS {
            map.serialize_entry(key, &cell(self.reading))?;
        }
        if let Some(sum_test) = &self.sum_test {
            map.serialize_entry("sum_test", sum_test)?;
        }
        map.end()
    }
}

/// A reset was undone: what follows is read since the reset before that, or since the beginning.
pub(super) struct UndoLine<'a> {
    /// How much has been measured since then, in seconds.
    pub time_s: f64,
    /// When it is written.
    pub utc: &'a str,
}

impl Serialize for UndoLine<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("schema", UNDO_SCHEMA)?;
        map.serialize_entry("time_s", &rounded(self.time_s, 10_000.0))?;
        map.serialize_entry("utc", self.utc)?;
        map.end()
    }
}

/// A file's first line, which says what the rows' keys stand for.
pub(super) struct FirstLine<'a> {
    /// When the file was begun.
    pub begun_utc: &'a str,
}

impl Serialize for FirstLine<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        struct Names;
        impl Serialize for Names {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.collect_map(COLUMNS.iter().map(|(key, place, _)| (key, place)))
            }
        }
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("schema", LOG_SCHEMA)?;
        map.serialize_entry("version", env!("CARGO_PKG_VERSION"))?;
        map.serialize_entry("begun_utc", self.begun_utc)?;
        map.serialize_entry("row", &Names)?;
        map.end()
    }
}
