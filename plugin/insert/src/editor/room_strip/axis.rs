//! The axis of levels that the lanes of the room share, with ceiling and target.

use egui::{Align2, Painter, Rect, Stroke, pos2};
use ledgerline_measure::Level;
use ledgerline_measure::reading::Reading;

use super::lanes;
use crate::editor::look::Look;
use crate::editor::palette::tint;
use crate::editor::{marks, numbers};

/// Height of a label over the lanes, in units.
const LABEL_UNITS: f32 = 1.15;
/// Strips narrower than this have their two labels above each other, in units.
const NARROW_UNITS: f32 = 15.5;

/// Height that the labels of ceiling and target take over a strip of that width, in points.
#[must_use]
pub fn labels_height(look: &Look, width: f32) -> f32 {
    let rows = if width < look.units(NARROW_UNITS) { 2.0 } else { 1.0 };
    look.units(LABEL_UNITS * rows + 0.3)
}

/// The axis of levels.
pub struct Axis {
    /// Where the lanes lie on it.
    pub area: Rect,
    low_db: f64,
    high_db: f64,
}

impl Axis {
    /// In steps of 10 dB, so that it moves seldom: from under the level and the target up to a
    /// little over full scale, or further where the readings are.
    #[must_use]
    pub fn new(reading: &Reading, area: Rect) -> Self {
        let level = lanes::audible_level(reading).1.finite().unwrap_or(0.0);
        let aimed = reading.room.target.map_or(level, |target| target.value);
        let lowest = level.min(aimed).min(reading.room.ceiling_db);
        let low_db = (((lowest - 4.0) / 10.0).floor() * 10.0).clamp(-80.0, -30.0);
        let peaks = reading.whole.bus.sample_peak_dbfs.max(reading.audible.bus.true_peak_dbtp);
        let highest = peaks.finite().unwrap_or(0.0);
        let high_db = if highest > 3.0 { ((highest + 4.0) / 10.0).ceil() * 10.0 } else { 4.0 };
        Self { area, low_db, high_db: high_db.min(20.0) }
    }

    /// Where a level lies, kept on the axis.
    fn x(&self, db: f64) -> f32 {
        let share = ((db - self.low_db) / (self.high_db - self.low_db)).clamp(0.0, 1.0);
        self.area.left() + share as f32 * self.area.width()
    }

    /// The same; nothing where there is no reading. Silence lies at the low end.
    #[must_use]
    pub fn place(&self, level: Level) -> Option<f32> {
        level.db().map(|db| self.x(db))
    }
}

/// Draws the scale under the lanes, and its lines through them.
pub fn scale(painter: &Painter, look: &Look, axis: &Axis) {
    let palette = look.palette;
    let y = axis.area.bottom();
    painter.hline(axis.area.x_range(), y, Stroke::new(look.hairline(), palette.axis));
    let at = pos2(axis.area.left() - look.units(1.5), y + look.units(0.65));
    painter.text(at, Align2::RIGHT_CENTER, "dB", look.words(0.8), palette.quiet);
    let apart = |step: f64| (axis.x(axis.low_db + step) - axis.area.left()) >= look.units(2.6);
    let step = [10.0, 20.0, 40.0].into_iter().find(|step| apart(*step)).unwrap_or(50.0);
    let mut db = (axis.low_db / step).ceil() * step;
    while db <= axis.high_db {
        let x = axis.x(db);
        painter.vline(x, axis.area.y_range(), Stroke::new(look.hairline(), palette.rule));
        let label = numbers::level(Level::from_db(db));
        let label = label.trim_end_matches(".0");
        let at = pos2(x, y + look.units(0.65));
        painter.text(at, Align2::CENTER_CENTER, label, look.digits(0.8), palette.quiet);
        db += step;
    }
}

/// Ceiling and target: lines through all lanes, labelled at their heads.
pub fn limits(painter: &Painter, look: &Look, axis: &Axis, reading: &Reading) {
    let (palette, room) = (look.palette, &reading.room);
    let area = axis.area;
    let ceiling = axis.x(room.ceiling_db);
    let over = Rect::from_min_max(pos2(ceiling, area.top()), area.max);
    painter.rect_filled(over, 0.0, tint(palette.fault, 0.12));
    painter.vline(
        ceiling,
        area.top() - look.units(0.3)..=area.bottom(),
        Stroke::new(look.units(0.16).max(1.0), palette.fault),
    );
    let y = area.top() - look.units(0.3 + LABEL_UNITS / 2.0);
    let text = format!("ceiling {} dB", numbers::level(Level::from_db(room.ceiling_db)));
    let right = area.right() + look.units(0.5);
    let label =
        painter.text(pos2(right, y), Align2::RIGHT_CENTER, text, look.words(0.86), palette.fault);

    let Some(target) = room.target else { return };
    let x = axis.x(target.value);
    let line = Stroke::new(look.units(0.13).max(1.0), palette.text);
    marks::dashed_vertical(painter, x, area.top() - look.units(0.3), area.bottom(), line);
    let (value, unit) = (Level::from_db(target.value), target.kind.unit());
    let text = format!("target {} {unit}", numbers::level(value));
    let galley = painter.layout_no_wrap(text, look.words(0.86), palette.text);
    let half = galley.size().x / 2.0;
    let narrow = area.width() < look.units(NARROW_UNITS);
    let (most, y) = if narrow {
        (right, y - look.units(LABEL_UNITS))
    } else {
        (label.left() - look.units(0.6), y)
    };
    let centre = x.min(most - half).max(area.left() - look.units(0.5) + half);
    let place = Align2::CENTER_CENTER.anchor_size(pos2(centre, y), galley.size());
    painter.galley(place.min, galley, palette.text);
}
