//! What is known of an entry by itself.

use serde::Serialize;

use super::clock::Clock;
use super::evidence::Evidence;
use super::levels::EntryLevels;
use crate::reading::Reading;
use crate::settings::Edges;

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

/// A stretch of the bus between two changes or marks.
#[derive(Debug, Clone)]
pub struct Stretch {
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
    /// Between which edges the audible band lay.
    pub(crate) edges: Edges,
    /// What changes are told from.
    pub(crate) evidence: Evidence,
}
