//! An entry: a stretch of the bus between two changes or marks, as plain data and as a record.

use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};

use super::change::Change;
use super::clock::Clock;
use super::evidence::Evidence;
use crate::detector::{Detector, Shown};
use crate::reading::Reading;
use crate::settings::Edges;

/// Name and version of the record's shape.
pub const ENTRY_SCHEMA: &str = "ledgerline.entry/1";

/// What an entry begins with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum OpenedBy {
    /// The first sound.
    Start,
    /// A step of level, found by itself.
    Step,
    /// A mark that the user sets.
    Mark,
    /// All readings were cleared.
    Reset,
    /// The transport jumped.
    Jump,
    /// What was bypassed is measured again.
    Bypass,
    /// Other settings, or another bus.
    Settings,
}

impl OpenedBy {
    /// What opened it, in a word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::Step => "level step",
            Self::Mark => "mark",
            Self::Reset => "reset",
            Self::Jump => "jump",
            Self::Bypass => "bypass off",
            Self::Settings => "settings",
        }
    }
}

/// What every kind of meter shows of one signal: dBFS, dBTP or LUFS, in the order of
/// [`Detector::ALL`]. Peaks are the highest; what moves is read where it settles.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ShownLevels(pub Shown);

impl ShownLevels {
    /// Of one kind.
    #[must_use]
    pub fn of(&self, detector: Detector) -> crate::Level {
        let index = Detector::ALL.iter().position(|&other| other == detector);
        index.map_or_else(Default::default, |index| self.0[index])
    }
}

impl Serialize for ShownLevels {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(Detector::ALL.len()))?;
        for (detector, level) in Detector::ALL.into_iter().zip(self.0) {
            map.serialize_entry(detector.name(), &level)?;
        }
        map.end()
    }
}

/// Of one band.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct BandLevels {
    /// Of A + B at unity gain; no readings in mono.
    pub sum: ShownLevels,
    /// Of the bus: peaks and needles of whichever channel has the highest, the rest of all together.
    pub bus: ShownLevels,
}

/// In both bands: levels, or differences of levels in dB.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct EntryLevels {
    /// As stored.
    pub whole: BandLevels,
    /// Between the edges.
    pub audible: BandLevels,
}

/// A stretch of the bus.
#[derive(Debug, Clone)]
pub struct Entry {
    /// Its number, from 1.
    pub number: u64,
    /// What it begins with.
    pub opened_by: OpenedBy,
    /// Whether its level is steady enough for changes to be named.
    pub steady: bool,
    /// Whether sound of it is missing.
    pub incomplete: bool,
    /// Where it begins and ends, in seconds of sound since the first.
    pub start_s: f64,
    /// See `start_s`.
    pub end_s: f64,
    /// Where it begins on other clocks.
    pub start: Clock,
    /// Where it ends on other clocks.
    pub end: Clock,
    /// What is read from the frames that no filter joins to another entry.
    pub reading: Reading,
    /// What every kind of meter shows.
    pub levels: EntryLevels,
    /// What changed from the entry before; none in the first.
    pub change: Option<Change>,
    /// Between which edges the audible band lay.
    pub(crate) edges: Edges,
    /// What changes are told from.
    pub(crate) evidence: Evidence,
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
