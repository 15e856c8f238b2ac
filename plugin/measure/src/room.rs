//! Room: the headroom that a meter shows beside the headroom there really is, and what may be done
//! with it.

use crate::level::{Level, summable};
use crate::reading::{BandReading, Reading, Room};
use crate::settings::{Edges, TargetKind, View};
use crate::verdict;

/// Reads the room from the bus of both bands.
pub(crate) fn read(whole: &BandReading, audible: &BandReading, view: &View) -> Room {
    let below_ceiling = |level: Level| Level::from_db(view.ceiling_db).minus(level);
    let room_db = below_ceiling(whole.bus.sample_peak_dbfs);
    let true_room_db = below_ceiling(audible.bus.true_peak_dbtp);
    let lift_db = view.target.map_or(Level::NONE, |target| {
        let measured = match target.kind {
            TargetKind::Loudness => audible.bus.integrated_lufs,
            TargetKind::Rms => audible.bus.rms_dbfs,
            TargetKind::Peak => audible.bus.true_peak_dbtp,
        };
        Level::from_db(target.value).minus(measured)
    });
    let lift_allowed_db = match (lift_db.finite(), true_room_db.finite()) {
        (Some(lift), Some(room)) => Level::from_db(lift.min(room)),
        _ => Level::NONE,
    };
    Room {
        ceiling_db: view.ceiling_db,
        room_db,
        true_room_db,
        withheld_db: Level::from_db(true_room_db.minus(room_db).db().map_or(f64::NAN, summable)),
        target: view.target,
        lift_db,
        lift_allowed_db,
    }
}

/// Lift, as far as the whole band's true peak leaves room under the ceiling.
pub(crate) fn lift_now(whole: &BandReading, room: &Room) -> Level {
    let left_db = Level::from_db(room.ceiling_db).minus(whole.bus.true_peak_dbtp);
    match (room.lift_db.finite(), left_db.finite()) {
        (Some(lift), Some(left)) => Level::from_db(lift.min(left)),
        _ => Level::NONE,
    }
}

impl Room {
    /// The unit of the lift; dB where nothing is aimed at.
    #[must_use]
    pub fn lift_unit(&self) -> &'static str {
        self.target.map_or("dB", |target| target.kind.lift_unit())
    }
}

impl Reading {
    /// What the whole band's true peak leaves under the ceiling: how far a mix without a target can go
    /// as it stands.
    #[must_use]
    pub fn room_now_db(&self) -> Level {
        Level::from_db(self.room.ceiling_db).minus(self.whole.bus.true_peak_dbtp)
    }

    /// The same reading with its room and its findings for the target and the ceiling of another
    /// view: what can be told without the meter. `edges` are those it was measured with. Levels
    /// stay in the window they were read in, and the limiter at the ceiling it worked at.
    #[must_use]
    pub fn aimed_at(&self, view: &View, edges: Edges) -> Self {
        let mut reading = *self;
        reading.room = read(&self.whole, &self.audible, view);
        reading.lift_now_db = lift_now(&self.whole, &reading.room);
        // Of another kind than the one that has run, nothing is known.
        reading.your_meter = self.your_meter.zip(view.your_meter).and_then(|(read, meter)| {
            (read.meter.kind == meter.kind).then(|| read.of(meter, reading.room.lift_db))
        });
        reading.findings = verdict::judge(&reading, edges);
        reading
    }
}
