//! Where the background puts the history, and the editor finds it.

use std::sync::{Mutex, MutexGuard, PoisonError};

use super::{Columns, Moments};

/// All that is known of what was.
#[derive(Debug, Clone, Default)]
pub struct History {
    /// Levels over time.
    pub columns: Columns,
    /// Whole snapshots.
    pub moments: Moments,
}

/// The board. The audio thread never touches it.
#[derive(Debug, Default)]
pub struct Board(Mutex<History>);

impl Board {
    /// The history, for as long as it takes to draw it or to add to it.
    pub fn lock(&self) -> MutexGuard<'_, History> {
        // What a panicking thread left behind is a column more or less.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
