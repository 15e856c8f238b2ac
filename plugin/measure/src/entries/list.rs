//! The entries that have ended.

use std::collections::VecDeque;

use super::entry::Entry;

/// The latest so many entries are kept; older ones are only counted.
pub const MOST_ENTRIES: usize = 200;

/// The entries that have ended, oldest first.
#[derive(Debug, Clone, Default)]
pub struct EntryList {
    entries: VecDeque<Entry>,
    older: u64,
}

impl EntryList {
    pub(super) fn push(&mut self, entry: Entry) {
        if self.entries.len() == MOST_ENTRIES {
            self.entries.pop_front();
            self.older += 1;
        }
        self.entries.push_back(entry);
    }

    /// The latest ones, oldest first.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = &Entry> + ExactSizeIterator {
        self.entries.iter()
    }

    /// The latest one.
    #[must_use]
    pub fn last(&self) -> Option<&Entry> {
        self.entries.back()
    }

    /// The one of a number, if it is kept.
    #[must_use]
    pub fn numbered(&self, number: u64) -> Option<&Entry> {
        self.entries.iter().find(|entry| entry.number == number)
    }

    /// How many older ones are not kept.
    #[must_use]
    pub fn older(&self) -> u64 {
        self.older
    }
}
