//! Where the background thread pins the entries for the editor, as light plain data. The audio thread
//! never touches it, and whoever looks holds the lock only to copy pointers and a few numbers.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use ledgerline_measure::Reading;
use ledgerline_measure::entries::change::What;
use ledgerline_measure::entries::{Change, Entry, EntryLevels, OpenedBy};

/// An entry in a list.
#[derive(Debug, Clone, PartialEq)]
pub struct Listed {
    /// Its number, from 1.
    pub number: u64,
    /// What it begins with.
    pub opened_by: OpenedBy,
    /// Where it begins and ends, in seconds since the first frame.
    pub start_s: f64,
    /// See `start_s`; for the entry under way, where it has come to.
    pub end_s: f64,
    /// Where the host's transport stood at its beginning, in seconds, if it ran.
    pub host_start_s: Option<f64>,
    /// Whether sound of it is missing.
    pub incomplete: bool,
    /// What changed from the one before; none in the first.
    pub what: Option<What>,
    /// What every kind of meter shows of it.
    pub levels: EntryLevels,
    /// What is read of it.
    pub reading: Arc<Reading>,
}

impl Listed {
    /// What a list says of an entry.
    #[must_use]
    pub fn of(entry: &Entry) -> Self {
        Self {
            number: entry.number,
            opened_by: entry.opened_by,
            start_s: entry.start_s,
            end_s: entry.end_s,
            host_start_s: entry.start.host_s,
            incomplete: entry.incomplete,
            what: entry.change.as_ref().map(|change| change.what),
            levels: entry.levels,
            reading: Arc::new(entry.reading),
        }
    }
}

/// A change, and which entry it leads to.
#[derive(Debug, Clone, PartialEq)]
pub struct ChangeTo {
    /// The number of the later entry.
    pub to: u64,
    /// From the earlier entry to that one.
    pub change: Change,
}

/// Everything that the editor is told.
#[derive(Debug, Clone, Default)]
pub struct Told {
    /// The entries that have ended, oldest first.
    pub ended: Arc<Vec<Listed>>,
    /// How many older ones are only counted.
    pub older: u64,
    /// The one under way.
    pub under_way: Option<Listed>,
    /// Where one begins that has just been found and is not measured long enough yet, in seconds.
    pub listening_since_s: Option<f64>,
    /// The latest change that could be told.
    pub latest: Option<Arc<ChangeTo>>,
    /// The change between the two entries that were picked.
    pub picked: Option<Arc<ChangeTo>>,
}

/// Two entries by their numbers, the earlier first.
pub type Pair = [u64; 2];

/// The board.
#[derive(Debug, Default)]
pub struct Board {
    told: Mutex<Told>,
    pair: Mutex<Option<Pair>>,
    watched: AtomicBool,
}

impl Board {
    /// What is pinned. Says as well that somebody looks.
    #[must_use]
    pub fn latest(&self) -> Told {
        self.watched.store(true, Ordering::Relaxed);
        lock(&self.told).clone()
    }

    /// Asks for the change between two entries, or for none.
    pub fn pick(&self, pair: Option<Pair>) {
        *lock(&self.pair) = pair;
    }

    /// The two entries that were picked.
    pub(super) fn picked(&self) -> Option<Pair> {
        *lock(&self.pair)
    }

    /// Changes what is pinned.
    pub(super) fn pin(&self, change: impl FnOnce(&mut Told)) {
        change(&mut lock(&self.told));
    }

    /// Whether somebody has looked since this was last asked.
    pub(super) fn is_watched(&self) -> bool {
        self.watched.swap(false, Ordering::Relaxed)
    }
}

fn lock<T>(pinned: &Mutex<T>) -> MutexGuard<'_, T> {
    // What is pinned is replaced field by field, each of them whole.
    pinned.lock().unwrap_or_else(PoisonError::into_inner)
}
