//! What the mixer's own meter showed, saved with the parameters.

use std::sync::{Arc, Mutex, PoisonError};

use nice_plug::params::persist::PersistentField;

use crate::sum_test::entries::Entries;

/// The entries, shared by the editor and the saved state. The audio thread has no business here.
#[derive(Debug, Default)]
pub struct MeterShown(Mutex<Entries>);

impl MeterShown {
    /// What was typed in.
    #[must_use]
    pub fn entries(&self) -> Entries {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Replaces what was typed in.
    pub fn set_entries(&self, entries: Entries) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = entries;
    }
}

impl PersistentField<'_, Entries> for Arc<MeterShown> {
    fn set(&self, entries: Entries) {
        self.set_entries(entries);
    }

    fn map<F, R>(&self, f: F) -> R
    where
        F: Fn(&Entries) -> R,
    {
        f(&self.entries())
    }
}
