//! Where the background thread pins the table of the sum test for the editor. The audio thread
//! never touches it, and whoever looks holds the lock only to copy a pointer.

use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use super::bus::Conclusion;
use super::record::SumTestRecord;

/// The latest table, where this instance hears the bus.
#[derive(Debug, Default)]
pub struct Board {
    pinned: Mutex<Pinned>,
    rate_hz: AtomicU32,
}

#[derive(Debug, Default)]
struct Pinned {
    record: Option<Arc<SumTestRecord>>,
    conclusion: Option<Arc<Conclusion>>,
}

impl Board {
    /// Pins a table with what came of the test, or takes the last one off.
    pub fn pin(&self, record: Option<SumTestRecord>, conclusion: Option<Arc<Conclusion>>) {
        *self.lock() = Pinned { record: record.map(Arc::new), conclusion };
    }

    /// The table that is pinned.
    #[must_use]
    pub fn latest(&self) -> Option<Arc<SumTestRecord>> {
        self.lock().record.clone()
    }

    /// What came of the test whose table is pinned, if it is complete.
    #[must_use]
    pub fn conclusion(&self) -> Option<Arc<Conclusion>> {
        self.lock().conclusion.clone()
    }

    /// Writes down the sample rate of the bus, in Hz.
    pub fn set_rate(&self, rate_hz: Option<u32>) {
        self.rate_hz.store(rate_hz.unwrap_or(0), Ordering::Relaxed);
    }

    /// The sample rate that the table is for, in Hz: that of the test, or of the bus as long as no
    /// test has played.
    #[must_use]
    pub fn rate_hz(&self) -> Option<u32> {
        let of_test = self.lock().record.as_ref().map_or(0, |record| record.rate_hz);
        let of_bus = self.rate_hz.load(Ordering::Relaxed);
        [of_test, of_bus].into_iter().find(|rate_hz| *rate_hz > 0)
    }

    fn lock(&self) -> MutexGuard<'_, Pinned> {
        // What is pinned is replaced whole, so that a panic elsewhere leaves it sound.
        self.pinned.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
