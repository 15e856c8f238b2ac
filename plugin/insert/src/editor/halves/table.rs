//! The numbers beside the scale of the halves, whole band beside audible band.

use egui::{Align2, Rect, Stroke, Ui, pos2};
use ledgerline_measure::HalvesRow;
use ledgerline_measure::reading::Reading;

use super::scale;
use crate::editor::look::Look;
use crate::editor::marks::fitted;
use crate::editor::panel;

/// Height of a row, in units, at most.
const ROW_UNITS: f32 = 2.0;

/// Whether a row is a mark on the scale, and if so whether that of the peak.
fn mark(row: HalvesRow) -> Option<bool> {
    match row {
        HalvesRow::GainByEnergy => Some(false),
        HalvesRow::GainByPeak => Some(true),
        _ => None,
    }
}

/// Middles of the columns of the whole and the audible band.
fn columns(look: &Look, rect: Rect) -> [f32; 2] {
    [rect.right() - look.units(7.6), rect.right() - look.units(2.2)]
}

/// Draws the table.
pub fn show(ui: &Ui, look: &Look, rect: Rect, reading: &Reading) {
    let (painter, palette) = (ui.painter(), look.palette);
    let columns = columns(look, rect);
    let height = (rect.height() / (HalvesRow::ALL.len() + 1) as f32).min(look.units(ROW_UNITS));
    for (x, name, colour) in
        [(columns[0], "whole", palette.whole), (columns[1], "audible", palette.audible)]
    {
        let at = pos2(x + look.units(2.2), rect.top() + height / 2.0);
        painter.text(at, Align2::RIGHT_CENTER, name, look.words(1.0), colour);
    }
    let line = Stroke::new(look.hairline(), palette.rule);
    painter.hline(rect.x_range(), rect.top() + height, line);
    for (index, row) in HalvesRow::ALL.into_iter().enumerate() {
        let y = rect.top() + height * (index as f32 + 1.5);
        let (name, unit) = (row.short(reading.halves), row.unit());
        let mark = mark(row);
        let indent = if mark.is_some() { look.units(1.3) } else { 0.0 };
        if let Some(is_peak) = mark {
            scale::key(painter, look, pos2(rect.left() + look.units(0.5), y), is_peak);
        }
        let left = pos2(rect.left() + indent, y);
        let written = painter.text(left, Align2::LEFT_CENTER, &name, look.words(1.0), palette.text);
        let at = pos2(written.right() + look.units(0.35), y);
        painter.text(at, Align2::LEFT_CENTER, unit, look.words(1.0), palette.quiet);
        let [whole, audible] = [&reading.whole, &reading.audible].map(|band| row.write(band, 1));
        for (x, text, colour) in
            [(columns[0], &whole, palette.whole), (columns[1], &audible, palette.audible)]
        {
            let at = pos2(x + look.units(2.2), y);
            let (width, digits) = (look.units(5.0), look.digits(1.05));
            fitted(painter, at, Align2::RIGHT_CENTER, width, text, digits, colour);
        }
        let place = Rect::from_x_y_ranges(rect.x_range(), y - height / 2.0..=y + height / 2.0);
        let words = || {
            format!("{}: whole {whole} {unit}, audible {audible} {unit}", row.word(reading.halves))
        };
        panel::describe(ui, place, &name, words).on_hover_text(row.explanation(reading.halves));
    }
}
