//! How much an instance may write in a day.

use std::time::{Duration, Instant};

/// At most so many bytes in a day: what the rows of a day, a reading every ten minutes and some
/// stops need, and a disk does not notice.
pub const MOST_BYTES_A_DAY: u64 = 40_000_000;
/// What entries leave free, for the readings.
const FOR_READINGS_BYTES: u64 = 2_000_000;
/// What rows leave free, for some hundreds of entries and the readings.
const FOR_ENTRIES_BYTES: u64 = 5_000_000;

const DAY: Duration = Duration::from_secs(86_400);

/// What kind of line it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// One of many.
    Row,
    /// One of as many as the bus has changes.
    Entry,
    /// One of few.
    Reading,
}

/// What has been written in the present day, which begins with the first line and is counted by a
/// clock that nobody sets.
#[derive(Debug, Default)]
pub(super) struct Budget {
    day_began: Option<Instant>,
    bytes: u64,
}

impl Budget {
    /// Whether a line may be written now.
    pub fn allows(&mut self, kind: Kind, bytes: usize, now: Instant) -> bool {
        let over = |began: Instant| now.saturating_duration_since(began) >= DAY;
        if self.day_began.is_none_or(over) {
            (self.day_began, self.bytes) = (Some(now), 0);
        }
        let reserve = match kind {
            Kind::Row => FOR_ENTRIES_BYTES,
            Kind::Entry => FOR_READINGS_BYTES,
            Kind::Reading => 0,
        };
        self.bytes + bytes as u64 + reserve <= MOST_BYTES_A_DAY
    }

    /// A line has been written.
    pub fn spend(&mut self, bytes: usize) {
        self.bytes += bytes as u64;
    }
}
