//! What is looked at: now, a moment that has passed, or a frozen screen.

use std::sync::Arc;

use crate::entries::board::{Listed, Told};
use crate::handover::Snapshot;
use crate::history::{Columns, History, Kept};

/// What the screen is drawn from.
#[derive(Clone, Copy)]
pub struct Given<'a> {
    /// What is read now.
    pub snapshot: &'a Snapshot,
    /// What was.
    pub history: &'a History,
}

/// A moment, or an entry, that is shown instead of now.
#[derive(Debug, Clone)]
pub struct Past {
    /// When, in seconds since the first frame.
    pub at_s: f64,
    /// Where the host's transport stood, in seconds, if it ran.
    pub host_s: Option<f64>,
    /// The number of the entry, where it is one.
    pub entry: Option<u64>,
    /// What was read.
    pub snapshot: Arc<Snapshot>,
}

impl Past {
    /// A moment.
    #[must_use]
    pub fn moment(kept: &Kept) -> Self {
        Self { at_s: kept.at_s, host_s: kept.host_s, entry: None, snapshot: kept.snapshot.clone() }
    }

    /// A whole entry. Its spectrum is that of the moment `near` its end.
    #[must_use]
    pub fn entry(listed: &Listed, near: Option<&Kept>) -> Self {
        let spectrum = near.map(|kept| kept.snapshot.spectrum).unwrap_or_default();
        let snapshot = Snapshot { reading: *listed.reading, spectrum };
        Self {
            at_s: listed.start_s,
            host_s: listed.host_start_s,
            entry: Some(listed.number),
            snapshot: Arc::new(snapshot),
        }
    }
}

/// A frozen screen.
#[derive(Debug, Clone)]
pub struct Frozen {
    /// What was read.
    pub snapshot: Snapshot,
    /// What was, up to then.
    pub columns: Arc<Columns>,
}

/// What is looked at.
pub(in crate::editor) struct Glance<'a> {
    /// What was read.
    pub(in crate::editor) shown: Snapshot,
    /// Everything that was.
    pub(in crate::editor) given: Given<'a>,
    /// Levels over time where the screen is frozen.
    pub(in crate::editor) frozen: Option<Arc<Columns>>,
    /// The entries as they stand.
    pub(in crate::editor) entries: Told,
    /// What the readings that are shown are of, in words.
    pub(in crate::editor) scope: String,
    /// Seconds since some moment long ago, by the clock of the screen.
    pub(in crate::editor) clock_s: f64,
    /// Where what is read begins, in seconds since the first frame.
    pub(in crate::editor) begins_s: f64,
    /// Whether this is the past, or frozen.
    pub(in crate::editor) stands_still: bool,
}

impl Glance<'_> {
    /// Levels over time.
    pub(in crate::editor) fn columns(&self) -> &Columns {
        self.frozen.as_deref().unwrap_or(&self.given.history.columns)
    }
}
