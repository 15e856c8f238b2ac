//! The numbers under the scale of the halves, whole band beside audible band.

use egui::{Align2, Rect, Stroke, Ui, pos2};
use ledgerline_measure::Level;
use ledgerline_measure::reading::{BandReading, HalvesReading, Reading};

use super::scale;
use crate::editor::look::Look;
use crate::editor::marks::fitted;
use crate::editor::{numbers, panel};

/// Height of a row, in units.
const ROW_UNITS: f32 = 1.08;

/// How a number is found and written.
type Write = fn(&BandReading) -> String;

/// A row: its name and unit, what it is, and its number.
struct Row {
    name: &'static str,
    unit: &'static str,
    explanation: &'static str,
    /// Whether it is a mark on the scale, and if so whether that of the peak.
    mark: Option<bool>,
    write: Write,
}

const ROWS: &[Row] = &[
    Row {
        name: "by energy",
        unit: "dB",
        explanation: "RMS of the sum over the power sum of A and B",
        mark: Some(false),
        write: |band| numbers::difference(band.halves.sum_gain_energy_db),
    },
    Row {
        name: "by peak",
        unit: "dB",
        explanation: "The same of the held sample peaks",
        mark: Some(true),
        write: |band| numbers::difference(band.halves.sum_gain_peak_db),
    },
    Row {
        name: "apart",
        unit: "dB",
        explanation: "How much more the peaks rise than the energy",
        mark: None,
        write: |band| numbers::difference(apart(&band.halves)),
    },
    Row {
        name: "sum",
        unit: "dBFS",
        explanation: "RMS of the sum since reset",
        mark: None,
        write: |band| numbers::level(band.sum.rms_dbfs),
    },
    Row {
        name: "if identical",
        unit: "dBFS",
        explanation: "RMS the sum would have if A and B were one signal",
        mark: None,
        write: |band| numbers::level(band.halves.coherent_dbfs),
    },
    Row {
        name: "if indep.",
        unit: "dBFS",
        explanation: "RMS the sum would have if A and B were independent",
        mark: None,
        write: |band| numbers::level(band.halves.power_dbfs),
    },
    Row {
        name: "A − B",
        unit: "dBFS",
        explanation: "RMS of the difference: the null of A and B",
        mark: None,
        write: |band| numbers::level(band.halves.null_dbfs),
    },
    Row {
        name: "A over B",
        unit: "dB",
        explanation: "RMS level of A less that of B",
        mark: None,
        write: |band| numbers::difference(band.halves.level_difference_db),
    },
    Row {
        name: "correlation",
        unit: "",
        explanation: "+1 identical, 0 independent, −1 opposite polarity",
        mark: None,
        write: |band| numbers::correlation(band.halves.correlation),
    },
];

/// Distance of the two marks.
fn apart(halves: &HalvesReading) -> Level {
    halves.sum_gain_peak_db.minus(halves.sum_gain_energy_db)
}

/// Height of the table, in points.
#[must_use]
pub fn height(look: &Look) -> f32 {
    look.units(ROW_UNITS * ROWS.len() as f32 + 0.2)
}

/// Middles of the columns of the whole and the audible band.
#[must_use]
pub fn columns(look: &Look, rect: Rect) -> [f32; 2] {
    [rect.right() - look.units(6.7), rect.right() - look.units(2.0)]
}

/// Draws the table.
pub fn show(ui: &Ui, look: &Look, rect: Rect, reading: &Reading) {
    let (painter, palette) = (ui.painter(), look.palette);
    painter.hline(rect.x_range(), rect.top(), Stroke::new(look.hairline(), palette.rule));
    let columns = columns(look, rect);
    for (index, row) in ROWS.iter().enumerate() {
        let y = rect.top() + look.units(0.2 + ROW_UNITS * (index as f32 + 0.5));
        let indent = if row.mark.is_some() { look.units(1.3) } else { 0.0 };
        if let Some(is_peak) = row.mark {
            scale::key(painter, look, pos2(rect.left() + look.units(0.5), y), is_peak);
        }
        let left = pos2(rect.left() + indent, y);
        let name =
            painter.text(left, Align2::LEFT_CENTER, row.name, look.words(0.88), palette.text);
        let unit = pos2(name.right() + look.units(0.35), y);
        painter.text(unit, Align2::LEFT_CENTER, row.unit, look.words(0.78), palette.quiet);
        let (whole, audible) = ((row.write)(&reading.whole), (row.write)(&reading.audible));
        for (x, text, colour) in
            [(columns[0], &whole, palette.whole), (columns[1], &audible, palette.audible)]
        {
            let at = pos2(x + look.units(1.9), y);
            fitted(
                painter,
                at,
                Align2::RIGHT_CENTER,
                look.units(4.6),
                text,
                look.digits(0.92),
                colour,
            );
        }
        let place =
            Rect::from_x_y_ranges(rect.x_range(), y - look.units(0.6)..=y + look.units(0.6));
        let words = || format!("{} in {}: whole {whole}, audible {audible}", row.name, row.unit);
        panel::describe(ui, place, row.name, words).on_hover_text(row.explanation);
    }
}
