//! The lanes of the room: what each says, and which levels it is drawn from.

use egui::Color32;
use ledgerline_measure::reading::{Reading, Room};
use ledgerline_measure::{Level, TargetKind, words};

use crate::editor::look::Look;
use crate::editor::marks::Band;
use crate::editor::numbers;
use crate::editor::palette::Palette;

/// What a lane shows.
pub enum Drawn {
    /// Nothing: there is no reading.
    Nothing,
    /// A peak mark, and a bar to the highest peak of the latest seconds.
    Peak {
        /// Highest since reset.
        held: Level,
        /// Highest of the latest seconds.
        recent: Level,
        /// In which band.
        band: Band,
    },
    /// A loudness or energy mark.
    Energy(Level),
    /// A distance between two levels.
    Span(Level, Level),
    /// A distance of which hidden content is the reason.
    Withheld(Level, Level),
}

/// A lane: a name, a number with its unit, and its picture.
pub struct Lane {
    /// What is read.
    pub name: &'static str,
    /// The same in full.
    pub spoken: &'static str,
    /// The reading, as it is written.
    pub number: String,
    /// Its unit.
    pub unit: &'static str,
    /// Its colour.
    pub colour: Color32,
    /// Its picture.
    pub drawn: Drawn,
}

/// Numbers of the lanes that a line sets apart from the lane above.
pub const APART: [usize; 2] = [2, 5];

/// All lanes, from the top.
#[must_use]
pub fn lanes(look: &Look, reading: &Reading) -> [Lane; 8] {
    let (palette, room) = (look.palette, &reading.room);
    let [peak, room_lane] = whole(palette, reading, room);
    let [true_peak, true_room, withheld] = audible(palette, reading, room);
    let [level, lift, allowed] = target(palette, reading, room);
    [peak, room_lane, true_peak, true_room, withheld, level, lift, allowed]
}

/// What the meter shows.
fn whole(palette: &Palette, reading: &Reading, room: &Room) -> [Lane; 2] {
    let held = reading.whole.bus.sample_peak_dbfs;
    let recent = reading.windows.whole.bus.sample_peak_dbfs;
    let peak = Drawn::Peak { held, recent, band: Band::Whole };
    let span = distance(room.room_db, Drawn::Span(held, Level::from_db(room.ceiling_db)));
    [
        level_lane("sample peak, whole", held, "dBFS", palette.whole, peak),
        distance_lane(words::ROOM, room.room_db, "dB", palette.whole, span),
    ]
}

/// What there is.
fn audible(palette: &Palette, reading: &Reading, room: &Room) -> [Lane; 3] {
    let held = reading.audible.bus.true_peak_dbtp;
    let recent = reading.windows.audible.bus.sample_peak_dbfs;
    let peak = Drawn::Peak { held, recent, band: Band::Audible };
    let span = distance(room.true_room_db, Drawn::Span(held, Level::from_db(room.ceiling_db)));
    let whole = reading.whole.bus.sample_peak_dbfs;
    let shown = words::withheld(room.withheld_db, 1);
    let withheld = distance(room.withheld_db, Drawn::Withheld(held, whole));
    [
        level_lane("true peak, audible", held, "dBTP", palette.audible, peak),
        distance_lane(words::AUDIBLE_ROOM, room.true_room_db, "dB", palette.audible, span),
        Lane {
            name: shown.short,
            spoken: shown.word,
            number: shown.number,
            unit: "dB",
            colour: palette.hidden,
            drawn: withheld,
        },
    ]
}

/// How far it is to the target.
fn target(palette: &Palette, reading: &Reading, room: &Room) -> [Lane; 3] {
    let kind = room.target.map_or(TargetKind::Loudness, |target| target.kind);
    let (name, level) = audible_level(reading);
    let to = |lift: Level| lift.finite().map_or(Level::NONE, |db| level.plus(db));
    let span = |lift: Level| distance(lift, Drawn::Span(level, to(lift)));
    let (unit, lift_unit) = (kind.unit(), kind.lift_unit());
    let (lift, allowed) = (room.lift_db, room.lift_allowed_db);
    [
        level_lane(name, level, unit, palette.audible, Drawn::Energy(level)),
        distance_lane(words::LIFT, lift, lift_unit, palette.text, span(lift)),
        distance_lane(words::LIFT_ALLOWED, allowed, lift_unit, palette.audible, span(allowed)),
    ]
}

fn level_lane(
    name: &'static str,
    level: Level,
    unit: &'static str,
    colour: Color32,
    drawn: Drawn,
) -> Lane {
    Lane { name, spoken: name, number: numbers::level(level), unit, colour, drawn }
}

fn distance_lane(
    name: &'static str,
    db: Level,
    unit: &'static str,
    colour: Color32,
    drawn: Drawn,
) -> Lane {
    Lane { name, spoken: name, number: numbers::difference(db), unit, colour, drawn }
}

/// The picture of a distance. One to silence is no number, and has no picture either.
fn distance(db: Level, drawn: Drawn) -> Drawn {
    if db.finite().is_some() { drawn } else { Drawn::Nothing }
}

/// The level that is compared with the target, and its name.
#[must_use]
pub fn audible_level(reading: &Reading) -> (&'static str, Level) {
    let bus = &reading.audible.bus;
    match reading.room.target.map_or(TargetKind::Loudness, |target| target.kind) {
        TargetKind::Loudness => ("loudness, audible", bus.integrated_lufs),
        TargetKind::Rms => ("RMS, audible", bus.rms_dbfs),
        TargetKind::Peak => ("true peak, audible", bus.true_peak_dbtp),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::handover::Snapshot;
    use egui::vec2;

    #[test]
    fn what_has_no_number_has_no_picture() {
        let look = Look::new(vec2(1100.0, 760.0), true);
        let mut reading = Snapshot::default().reading;
        reading.whole.bus.sample_peak_dbfs = Level::SILENCE;
        reading.audible.bus.true_peak_dbtp = Level::SILENCE;
        for lane in lanes(&look, &reading) {
            let is_distance = matches!(lane.drawn, Drawn::Span(..) | Drawn::Withheld(..));
            assert!(!is_distance, "{} reads {}", lane.name, lane.number);
        }
    }
}
