//! What the user's own meter shows.

use serde::ser::SerializeStruct;
use serde::{Serialize, Serializer};

use crate::level::Level;
use crate::settings::YourMeter;

/// What it shows, on its own scale. Serialized with `detector` and `band` in place of the kind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct YourMeterReading {
    /// Which meter it is.
    pub meter: YourMeter,
    /// What it shows: peaks are held for the peak window, a needle or a programme meter is read as it
    /// stands, RMS is over 300 ms and momentary loudness over 400 ms. In a file's reading, the highest.
    pub shows_db: Level,
    /// What it shows, its offset taken out, over the RMS of the audible bus: over the RMS window, in a
    /// file's reading over all of it.
    pub over_audible_db: Level,
    /// The highest that it has shown since reset.
    pub highest_db: Level,
    /// What it stood at or above for half of the time, tenths of a second below −70 LUFS left out.
    pub usual_db: Level,
    /// What `highest_db` is once the audible programme is at its target; none without a target.
    pub highest_at_target_db: Level,
    /// The same of `usual_db`.
    pub usual_at_target_db: Level,
}

impl YourMeterReading {
    /// The same with another target, or another scale.
    #[must_use]
    pub(crate) fn of(self, meter: YourMeter, lift_db: Level) -> Self {
        let moved_db = meter.offset_db - self.meter.offset_db;
        let [shows_db, highest_db, usual_db] =
            [self.shows_db, self.highest_db, self.usual_db].map(|level| level.plus(moved_db));
        let at_target = |level: Level| {
            lift_db.finite().map_or(Level::NONE, |lift_db| level.unless_silent().plus(lift_db))
        };
        Self {
            meter,
            shows_db,
            highest_db,
            usual_db,
            highest_at_target_db: at_target(highest_db),
            usual_at_target_db: at_target(usual_db),
            ..self
        }
    }

    /// The same of something that has ended: what it shows is the highest.
    pub(crate) fn over_the_whole(self, audible_rms_dbfs: Level) -> Self {
        let over_audible_db = self.own_db(self.highest_db).minus(audible_rms_dbfs);
        Self { shows_db: self.highest_db, over_audible_db, ..self }
    }

    /// The RMS of the audible bus beside what it shows, in dBFS; none in silence.
    #[must_use]
    pub fn as_loud_as_dbfs(&self) -> Level {
        self.own_db(self.shows_db).minus(self.over_audible_db)
    }

    /// A level on its scale, the offset taken out; none in silence.
    fn own_db(&self, level: Level) -> Level {
        level.unless_silent().plus(-self.meter.offset_db)
    }
}

impl Serialize for YourMeterReading {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut record = serializer.serialize_struct("YourMeterReading", 9)?;
        record.serialize_field("detector", &self.meter.kind.detector)?;
        record.serialize_field("band", self.meter.kind.band())?;
        record.serialize_field("offset_db", &self.meter.offset_db)?;
        record.serialize_field("shows_db", &self.shows_db)?;
        record.serialize_field("over_audible_db", &self.over_audible_db)?;
        record.serialize_field("highest_db", &self.highest_db)?;
        record.serialize_field("usual_db", &self.usual_db)?;
        record.serialize_field("highest_at_target_db", &self.highest_at_target_db)?;
        record.serialize_field("usual_at_target_db", &self.usual_at_target_db)?;
        record.end()
    }
}
