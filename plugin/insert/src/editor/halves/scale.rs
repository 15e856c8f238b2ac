//! The halves on a scale from cancelling over independent to identical: how they add, by energy and
//! by peak.
//!
//! The scale is linear in the ratio of the sum's power to that of one of two equal halves, which is 0
//! when they cancel, 2 when they are independent and 4 when they are identical. So minus infinity has
//! a place, and independent halves stand exactly in the middle.

use egui::{Align2, Painter, Rect, Stroke, Ui, pos2, vec2};
use ledgerline_measure::reading::{HalvesReading, Reading};
use ledgerline_measure::{Level, words};

use crate::editor::look::Look;
use crate::editor::marks::{self, Band};
use crate::editor::{numbers, panel};

/// What the scale is marked with: level of the sum over one of two equal halves, and what that
/// means.
const TICKS: [(f64, &str); 5] = [
    (6.0206, "identical"),
    (4.7712, ""),
    (3.0103, "independent"),
    (0.0, ""),
    (f64::NEG_INFINITY, "cancelling"),
];

/// From this height of the axis on, in units, every line has its number.
const TALL_UNITS: f32 = 18.0;

/// Power of the sum over that of one half, at the top of the scale.
const MOST_RATIO: f64 = 4.0;

/// Draws the scale, with a lane for the whole and one for the audible band.
pub fn show(ui: &Ui, look: &Look, rect: Rect, reading: &Reading) {
    let painter = ui.painter();
    let lanes = [0.5, 0.8].map(|share| rect.left() + rect.width() * share);
    let top = rect.top() + look.units(2.6);
    let axis = Rect::from_min_max(
        pos2(rect.left(), top),
        pos2(rect.right(), rect.bottom() - look.units(1.3)),
    );
    ticks(painter, look, axis);
    for (x, name, band, halves) in [
        (lanes[0], "whole", Band::Whole, &reading.whole.halves),
        (lanes[1], "audible", Band::Audible, &reading.audible.halves),
    ] {
        let at = pos2(x, rect.top() + look.units(0.4));
        painter.text(at, Align2::CENTER_CENTER, name, look.words(1.0), band.colour(look.palette));
        lane(painter, look, axis, x, band, halves);
        let place =
            Rect::from_x_y_ranges(x - look.units(2.0)..=x + look.units(2.0), axis.y_range());
        panel::describe(ui, place, name, || in_words(name, halves));
    }
}

fn ticks(painter: &Painter, look: &Look, axis: Rect) {
    let palette = look.palette;
    for (gain_db, meaning) in TICKS {
        let value = words::signed(gain_db, 1);
        let y = height(axis, gain_db);
        let line = Stroke::new(
            look.hairline(),
            if meaning.is_empty() { palette.rule } else { palette.axis },
        );
        painter.hline(axis.left() + look.units(7.8)..=axis.right(), y, line);
        if meaning.is_empty() {
            // Where there is no height for it, the line alone.
            if axis.height() >= look.units(TALL_UNITS) {
                let at = pos2(axis.left() + look.units(7.4), y);
                painter.text(at, Align2::RIGHT_CENTER, value, look.digits(1.0), palette.quiet);
            }
        } else {
            let at = pos2(axis.left(), y - look.units(0.65));
            painter.text(at, Align2::LEFT_CENTER, meaning, look.words(1.0), palette.text);
            let at = pos2(axis.left(), y + look.units(0.65));
            let value = format!("{value} dB");
            painter.text(at, Align2::LEFT_CENTER, value, look.digits(1.0), palette.quiet);
        }
    }
}

/// One band: energy at the left of the line, peak at its right, their distance between them.
fn lane(painter: &Painter, look: &Look, axis: Rect, x: f32, band: Band, halves: &HalvesReading) {
    let colour = band.colour(look.palette);
    painter.vline(x, axis.y_range(), Stroke::new(look.units(0.1).max(1.0), look.palette.axis));
    let energy = halves.shown_gain_energy_db().db().map(|db| height(axis, db));
    let peak = halves.shown_gain_peak_db().db().map(|db| height(axis, db));
    if let (Some(energy), Some(peak)) = (energy, peak) {
        let stroke = Stroke::new(look.units(0.34), colour);
        painter.vline(x, energy.min(peak)..=energy.max(peak), stroke);
    }
    if let Some(y) = energy {
        marks::energy(painter, look, pos2(x - look.units(0.72), y), band);
    }
    if let Some(y) = peak {
        marks::peak(painter, look, pos2(x + look.units(0.22), y), band);
    }
}

/// Where a gain lies on the scale.
fn height(axis: Rect, gain_db: f64) -> f32 {
    let power_ratio = Level::from_db(gain_db).power().unwrap_or(0.0).clamp(0.0, MOST_RATIO);
    axis.bottom() - (power_ratio / MOST_RATIO) as f32 * axis.height()
}

fn in_words(band: &str, halves: &HalvesReading) -> String {
    let gain = |gain_db: Level| match gain_db.db() {
        None => words::spoken(gain_db, "dB"),
        Some(_) => format!("{} dB", numbers::difference(gain_db)),
    };
    format!(
        "Sum gain, {band} band: by energy {}, by peak {}",
        gain(halves.shown_gain_energy_db()),
        gain(halves.shown_gain_peak_db())
    )
}

/// A mark as it stands in the lanes, for the table's names.
pub fn key(painter: &Painter, look: &Look, at: egui::Pos2, is_peak: bool) {
    if is_peak {
        marks::peak(painter, look, at - vec2(look.units(0.42), 0.0), Band::Whole);
    } else {
        marks::energy(painter, look, at, Band::Whole);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cancel_independent_and_identical_have_their_places() {
        let axis = Rect::from_min_size(pos2(0.0, 0.0), vec2(10.0, 100.0));
        assert_eq!(height(axis, f64::NEG_INFINITY), 100.0);
        assert!((height(axis, 3.0103) - 50.0).abs() < 0.01);
        assert!(height(axis, 6.0206).abs() < 0.01);
        assert_eq!(height(axis, 600.0), 0.0);
    }
}
