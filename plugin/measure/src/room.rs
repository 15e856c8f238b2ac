//! Room: the headroom that a meter shows beside the headroom there really is, and what may be done
//! with it.

use crate::level::Level;
use crate::reading::{BandReading, Reading, Room};
use crate::settings::{Edges, TargetKind, View};
use crate::verdict;

/// Reads the room from the bus of both bands.
pub(crate) fn read(whole: &BandReading, audible: &BandReading, view: &View) -> Room {
    let below_ceiling = |level: Level| Level::from_db(view.ceiling_db).minus(level);
    let room_db = below_ceiling(whole.bus.sample_peak_dbfs);
    let true_room_db = below_ceiling(audible.bus.true_peak_dbtp);
    let measured = match view.target.kind {
        TargetKind::Loudness => audible.bus.integrated_lufs,
        TargetKind::Rms => audible.bus.rms_dbfs,
        TargetKind::Peak => audible.bus.true_peak_dbtp,
    };
    let lift_db = Level::from_db(view.target.value).minus(measured);
    let lift_allowed_db = match (lift_db.finite(), true_room_db.finite()) {
        (Some(lift), Some(room)) => Level::from_db(lift.min(room)),
        _ => Level::NONE,
    };
    Room {
        ceiling_db: view.ceiling_db,
        room_db,
        true_room_db,
        withheld_db: true_room_db.minus(room_db),
        target: view.target,
        lift_db,
        lift_allowed_db,
    }
}

impl Reading {
    /// The same reading with its room and its findings for the target and the ceiling of another
    /// view: what can be told without the meter. `edges` are those it was measured with. Levels
    /// stay in the window they were read in, and the limiter at the ceiling it worked at.
    #[must_use]
    pub fn aimed_at(&self, view: &View, edges: Edges) -> Self {
        let mut reading = *self;
        reading.room = read(&self.whole, &self.audible, view);
        reading.findings = verdict::judge(&reading, edges);
        reading
    }
}
