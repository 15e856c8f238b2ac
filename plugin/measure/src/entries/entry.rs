//! An entry as it is listed and recorded: a stretch of the bus, and what changed from the one before.

use std::ops::Deref;

use serde::{Serialize, Serializer};

use super::change::Change;
use super::clock::Clock;
use super::levels::EntryLevels;
use super::stretch::{OpenedBy, Stretch};
use crate::reading::Reading;

/// Name and version of the record's shape.
pub const ENTRY_SCHEMA: &str = "ledgerline.entry/1";

/// See the module.
#[derive(Debug, Clone)]
pub struct Entry {
    /// What is known of it by itself.
    pub stretch: Stretch,
    /// What changed from the entry before; none in the first.
    pub change: Option<Change>,
}

impl Deref for Entry {
    type Target = Stretch;

    fn deref(&self) -> &Stretch {
        &self.stretch
    }
}

impl Serialize for Entry {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Record<'a> {
            schema: &'static str,
            entry: u64,
            opened_by: OpenedBy,
            steady: bool,
            incomplete: bool,
            start_s: f64,
            end_s: f64,
            host_start_s: Option<f64>,
            host_end_s: Option<f64>,
            #[serde(serialize_with = "super::clock::utc")]
            utc_start: &'a Clock,
            #[serde(serialize_with = "super::clock::utc")]
            utc_end: &'a Clock,
            levels: &'a EntryLevels,
            change: &'a Option<Change>,
            reading: &'a Reading,
        }
        Record {
            schema: ENTRY_SCHEMA,
            entry: self.number,
            opened_by: self.opened_by,
            steady: self.steady,
            incomplete: self.incomplete,
            start_s: self.start_s,
            end_s: self.end_s,
            host_start_s: self.start.host_s,
            host_end_s: self.end.host_s,
            utc_start: &self.start,
            utc_end: &self.end,
            levels: &self.levels,
            change: &self.change,
            reading: &self.reading,
        }
        .serialize(serializer)
    }
}
