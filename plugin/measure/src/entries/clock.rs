//! Where a moment lies on other clocks than that of the frames.

use serde::{Serialize, Serializer};
use time::OffsetDateTime;

/// A moment in the host's time and in universal time, each where it is known.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Clock {
    /// Where the host's transport stands, in seconds, while it runs.
    pub host_s: Option<f64>,
    /// Universal time.
    pub utc: Option<OffsetDateTime>,
}

impl Clock {
    /// The same clocks some seconds later.
    pub(crate) fn after(self, seconds: f64) -> Self {
        Self {
            host_s: self.host_s.map(|host_s| host_s + seconds),
            utc: self.utc.map(|utc| utc + time::Duration::seconds_f64(seconds)),
        }
    }

    /// Universal time as records carry it (RFC 3339, thousandths of a second).
    #[must_use]
    pub fn utc_text(&self) -> Option<String> {
        self.utc.map(|utc| {
            let (year, month, day) = utc.to_calendar_date();
            let (hour, minute, second, thousandth) = utc.to_hms_milli();
            let month = u8::from(month);
            format!(
                "{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}.{thousandth:03}Z"
            )
        })
    }
}

/// Writes universal time as a record carries it.
pub(super) fn utc<S: Serializer>(clock: &Clock, serializer: S) -> Result<S::Ok, S::Error> {
    clock.utc_text().serialize(serializer)
}
