//! Where the background thread pins the table of the sum test for the editor. The audio thread
//! never touches it.

use std::sync::{Arc, Mutex, PoisonError};

use super::record::SumTestRecord;

/// The latest table, where this instance hears the bus.
#[derive(Debug, Default)]
pub struct Board(Mutex<Option<Arc<SumTestRecord>>>);

impl Board {
    /// Pins a table, or takes the last one off.
    pub fn pin(&self, record: Option<SumTestRecord>) {
        let record = record.map(Arc::new);
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = record;
    }

    /// The table that is pinned.
    #[must_use]
    pub fn latest(&self) -> Option<Arc<SumTestRecord>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }
}
