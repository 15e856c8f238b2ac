//! The meter that the user's mixer shows, in words: what it reads of the bus, how loud that is, and where
//! it stands when the programme is at its target.

use crate::level::Level;
use crate::reading::{Reading, YourMeterReading};
use crate::verdict::thresholds::NOTHING_DB;
use crate::words;

impl YourMeterReading {
    /// What it shows now, for the screen: at most twenty words.
    #[must_use]
    pub fn sentence(&self) -> String {
        let shows = words::level(self.shows_db, 1);
        let said = match self.as_loud_as_dbfs().finite() {
            Some(dbfs) => format!(
                "Your meter shows {shows}: here as loud as {} dBFS RMS",
                words::signed(dbfs, 1)
            ),
            None => format!("Your meter shows {shows}"),
        };
        match self.highest_at_target_db.finite() {
            Some(at_target) => {
                format!("{said}; at the target its highest is {}.", words::signed(at_target, 1))
            }
            None => format!("{said}."),
        }
    }

    /// What it showed of something that has ended, and where it has to stand.
    #[must_use]
    pub fn summary(&self, reading: &Reading) -> String {
        let mut said = format!(
            "Your meter ({}) reaches {}, and stands at {} or above for half of the time",
            self.meter.kind.word(),
            words::level(self.highest_db, 1),
            words::level(self.usual_db, 1)
        );
        if let Some(over_db) = self.over_audible_db.finite() {
            let side = if over_db < 0.0 { "below" } else { "above" };
            said += &format!(
                ": its highest{} lies {} {side} the audible RMS of {} dBFS",
                if self.meter.offset_db == 0.0 { "" } else { ", the offset taken out," },
                words::distance(over_db),
                words::level(reading.audible.bus.rms_dbfs, 1)
            );
        }
        said.push('.');
        if let (Some(highest), Some(target)) =
            (self.highest_at_target_db.finite(), reading.room.target)
        {
            said += &format!(
                " With this programme at {}, it reaches {}",
                target.words(),
                words::signed(highest, 1)
            );
            if let Some(usual) = self.usual_at_target_db.finite() {
                said += &format!(" and mostly stands at {}", words::signed(usual, 1));
            }
            said.push('.');
            let limit = [reading.lift_now_db, reading.room.lift_db].map(Level::finite);
            if let [Some(now), Some(lift)] = limit
                && now < lift - NOTHING_DB
            {
                said += &format!(
                    " As the mix stands, the ceiling comes {} before that.",
                    words::distance(lift - now)
                );
            }
        }
        said
    }
}
