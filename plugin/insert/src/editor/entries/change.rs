//! What changed: by how much each of four meters moved, for the bus and for the halves' sum, in both
//! bands, and a sentence.

use egui::{Align2, Rect, Stroke, Ui, pos2};
use ledgerline_measure::Level;
use ledgerline_measure::detector::Detector;
use ledgerline_measure::entries::Change;

use super::ViewState;
use super::shown::{METERS, listening, shown, why_none};
use crate::editor::look::Look;
use crate::editor::marks::fitting;
use crate::editor::{numbers, panel};
use crate::entries::board::Told;

/// Height of a row, in units.
const ROW_UNITS: f32 = 1.5;
/// Width of a column of numbers, in units.
const COLUMN_UNITS: f32 = 3.9;
/// Width of the names of the meters, in units.
const NAMES_UNITS: f32 = 7.6;
/// Rows of the head.
const HEAD_ROWS: f32 = 2.0;
/// Sizes that the sentence may take, in units.
const SIZES: [f32; 4] = [1.3, 1.2, 1.1, 1.0];
/// Size of the words and numbers, in units.
const SIZE: f32 = 1.05;
/// Draws it.
pub(super) fn show(ui: &Ui, look: &Look, rect: Rect, told: &Told, state: &ViewState) {
    let change = shown(told, state);
    let title = if state.pair().is_some() { "Change" } else { "Latest change" };
    let listening = listening(told, state);
    let between = change.map(|change| format!("entry {} to {}", change.change.against, change.to));
    let remark: Vec<String> = between.into_iter().chain(listening.clone()).collect();
    let content = panel::show(ui, look, rect, title, &remark.join("   ·   "));
    if let Some(listening) = listening {
        let place = Rect::from_min_max(rect.min, pos2(rect.right(), content.top()));
        panel::describe(ui, place, "listening", || listening.clone());
    }
    let Some(change) = change else {
        let words = why_none(told, state);
        panel::empty(ui, look, content, words);
        panel::describe(ui, content, "no change", || words.to_owned());
        return;
    };
    let change = &change.change;
    let right = table(ui, look, content, change);
    let bottom = content.top() + look.units(ROW_UNITS * (HEAD_ROWS + METERS.len() as f32) + 0.5);
    // Under the table where there is height for that, else beside it.
    let under = content.bottom() - bottom >= look.units(8.5);
    let corner = match under {
        true => pos2(content.left(), bottom),
        false => pos2(right + look.units(0.8), content.top()),
    };
    let place = Rect::from_min_max(corner, content.max);
    let yours = state.yours.and_then(|kind| change.on_yours(kind));
    let sentence =
        yours.map_or(change.sentence.clone(), |yours| format!("{yours} {}", change.sentence));
    let galley = fitting(ui.painter(), look, &SIZES, place.size(), &sentence);
    ui.painter().galley(place.min, galley, look.palette.text);
    panel::describe(ui, place, "what changed", || sentence.clone());
}

/// Draws the table at the left of a place, and returns where it ends.
fn table(ui: &Ui, look: &Look, place: Rect, change: &Change) -> f32 {
    let (painter, palette) = (ui.painter(), look.palette);
    let columns = columns(change);
    let row = look.units(ROW_UNITS);
    let right =
        |index: usize| place.left() + look.units(NAMES_UNITS + COLUMN_UNITS * (index + 1) as f32);
    let place = Rect::from_min_max(place.min, pos2(right(columns.len() - 1), place.bottom()));
    let y = |line: f32| place.top() + row * (line + 0.5);
    for (index, column) in columns.iter().enumerate() {
        if index % 2 == 1 {
            let at = pos2(right(index), y(0.0));
            painter.text(at, Align2::RIGHT_CENTER, column.signal, look.words(SIZE), palette.text);
        }
        let colour = if column.audible { palette.audible } else { palette.whole };
        let name = if column.audible { "audible" } else { "whole" };
        let at = pos2(right(index), y(1.0));
        painter.text(at, Align2::RIGHT_CENTER, name, look.words(SIZE), colour);
    }
    let line = place.top() + row * HEAD_ROWS;
    painter.hline(place.x_range(), line, Stroke::new(look.hairline(), palette.rule));
    for (index, (detector, name, unit)) in METERS.into_iter().enumerate() {
        let y = y(HEAD_ROWS + index as f32);
        let words = format!("{name}, {unit}");
        let at = pos2(place.left(), y);
        painter.text(at, Align2::LEFT_CENTER, &words, look.words(SIZE), palette.text);
        let mut spoken = words;
        for (index, column) in columns.iter().enumerate() {
            let text = numbers::difference((column.of)(change, detector));
            let colour = if column.audible { palette.audible } else { palette.whole };
            let at = pos2(right(index), y);
            painter.text(at, Align2::RIGHT_CENTER, &text, look.digits(SIZE), colour);
            let band = if column.audible { "audible" } else { "whole" };
            spoken += &format!("; {} {band} {text}", column.signal);
        }
        let across = Rect::from_x_y_ranges(place.x_range(), y - row / 2.0..=y + row / 2.0);
        panel::describe(ui, across, name, || spoken.clone());
    }
    place.right()
}

/// A column of differences.
struct Column {
    signal: &'static str,
    audible: bool,
    of: fn(&Change, Detector) -> Level,
}

/// The bus in both bands, and the sum where there is one.
fn columns(change: &Change) -> Vec<Column> {
    let column = |signal, audible, of| Column { signal, audible, of };
    let mut columns = vec![
        column("bus", false, |change, detector| change.whole.bus.of(detector)),
        column("bus", true, |change, detector| change.audible.bus.of(detector)),
    ];
    if change.whole.sum.of(Detector::Rms).db().is_some() {
        columns.push(column("sum", false, |change, detector| change.whole.sum.of(detector)));
        columns.push(column("sum", true, |change, detector| change.audible.sum.of(detector)));
    }
    columns
}
