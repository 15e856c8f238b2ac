//! The table of steps: what the mixer's own meter showed, to be typed in, and how much the level
//! changed against step 1, in both bands, beside what an ideal sum changes; and the answer under it.

use egui::{Align2, Color32, Rect, Stroke, Ui, pos2};
use ledgerline_measure::Level;
use ledgerline_measure::sum_test::STEPS;
use ledgerline_measure::sum_test::{Measure, StepRecord};

use super::fields::{self, Typed};
use crate::editor::look::Look;
use crate::editor::marks::{fitted, fitting};
use crate::editor::{numbers, panel};
use crate::sum_test::entries::Entries;
use crate::sum_test::record::SumTestRecord;

/// Height of a row, in units.
const ROW_UNITS: f32 = 1.42;
/// Right edges of the columns of numbers, in units from the right edge of the table.
const COLUMNS_UNITS: [f32; 5] = [18.6, 15.0, 11.1, 7.5, 3.7];
const TITLES: [&str; 5] = ["ideal", "here", "ideal", "here", "off by"];
/// What spans columns: its name, and its right edge as above.
const GROUPS: [(&str, f32); 3] =
    [("your meter", SHOWN_UNITS), ("whole band", 15.0), ("audible band", 7.5)];
/// Right edge of the fields to type in, in units from the right edge of the table.
const SHOWN_UNITS: f32 = 22.2;
/// Width of such a field with the sign before it, in units.
const FIELD_UNITS: f32 = 5.6;
/// Rows of the head.
const HEAD_ROWS: usize = 2;
/// Sizes that the answer may take, in units.
const SIZES: [f32; 4] = [1.2, 1.08, 0.96, 0.88];
/// The detector that the table shows: what a sum is about is energy.
const DETECTOR: &str = "rms";

/// Draws the table, changes what the user types in, and returns where the table ends.
pub fn show(
    ui: &mut Ui,
    look: &Look,
    content: Rect,
    record: Option<&SumTestRecord>,
    entries: &mut Entries,
    typed: &mut Typed,
) -> f32 {
    let row = look.units(ROW_UNITS);
    head(ui, look, content);
    let measured = record.map_or(&[][..], |record| &record.steps);
    for (index, step) in STEPS.iter().enumerate() {
        let top = content.top() + row * (index + HEAD_ROWS) as f32;
        let place = Rect::from_x_y_ranges(content.x_range(), top..=top + row);
        line(ui, look, place, step.number, step.name, measured.get(index));
        if Entries::asked_for(index) {
            let right = place.right() - look.units(SHOWN_UNITS);
            let across = right - look.units(FIELD_UNITS)..=right;
            let field = Rect::from_x_y_ranges(across, place.shrink(look.units(0.08)).y_range());
            fields::show(ui, look, field, index, entries, typed);
        } else {
            let at = pos2(place.right() - look.units(SHOWN_UNITS + 0.35), place.center().y);
            let font = look.words(0.84);
            ui.painter().text(at, Align2::RIGHT_CENTER, "not asked", font, look.palette.quiet);
        }
    }
    typed.move_on(ui);
    content.top() + row * (STEPS.len() + HEAD_ROWS) as f32
}

fn head(ui: &Ui, look: &Look, content: Rect) {
    let (painter, palette) = (ui.painter(), look.palette);
    for (name, column) in GROUPS {
        let y = content.top() + look.units(ROW_UNITS) * 0.5;
        let at = pos2(content.right() - look.units(column), y);
        painter.text(at, Align2::RIGHT_CENTER, name, look.words(0.84), palette.text);
    }
    let y = content.top() + look.units(ROW_UNITS) * 1.5;
    let titles = TITLES.into_iter().zip(COLUMNS_UNITS);
    for (title, column) in titles.chain([("showed, dB", SHOWN_UNITS)]) {
        let at = pos2(content.right() - look.units(column), y);
        painter.text(at, Align2::RIGHT_CENTER, title, look.words(0.84), palette.quiet);
    }
    let y = content.top() + look.units(ROW_UNITS) * HEAD_ROWS as f32;
    painter.hline(content.x_range(), y, Stroke::new(look.hairline(), palette.rule));
}

fn line(
    ui: &Ui,
    look: &Look,
    place: Rect,
    number: usize,
    name: &str,
    measured: Option<&StepRecord>,
) {
    let (painter, palette) = (ui.painter(), look.palette);
    let y = place.center().y;
    let colour = if measured.is_some() { palette.text } else { palette.quiet };
    let at = pos2(place.left() + look.units(1.5), y);
    painter.text(at, Align2::RIGHT_CENTER, number.to_string(), look.digits(0.94), colour);
    let left = place.left() + look.units(2.1);
    let width = place.right() - look.units(SHOWN_UNITS + FIELD_UNITS) - left;
    fitted(painter, pos2(left, y), Align2::LEFT_CENTER, width, name, look.words(0.94), colour);
    let Some([whole, audible]) = measured.and_then(bands) else {
        panel::describe(ui, place, name, || format!("Step {number}, {name}: not measured yet"));
        return;
    };
    let off = farther(whole, audible);
    let cells = [
        (numbers::difference(whole.expected_db), palette.quiet),
        (numbers::difference(whole.change_db), palette.whole),
        (numbers::difference(audible.expected_db), palette.quiet),
        (numbers::difference(audible.change_db), palette.audible),
        (numbers::difference(off), palette.text),
    ];
    for ((text, colour), column) in cells.iter().zip(COLUMNS_UNITS) {
        let at = pos2(place.right() - look.units(column), y);
        painter.text(at, Align2::RIGHT_CENTER, text, look.digits(0.94), *colour);
    }
    let (word, colour) = judged(whole.within && audible.within, look);
    painter.text(pos2(place.right(), y), Align2::RIGHT_CENTER, word, look.words(0.94), colour);
    panel::describe(ui, place, name, || {
        format!(
            "Step {number}, {name}: whole {}, ideal {}, audible {}, ideal {}, {word}",
            cells[1].0, cells[0].0, cells[3].0, cells[2].0
        )
    });
}

/// What the detector read in the whole and in the audible band.
fn bands(step: &StepRecord) -> Option<[&Measure; 2]> {
    let band = |name: &str| step.bands.get(name)?.get(DETECTOR);
    Some([band("whole")?, band("audible")?])
}

/// The larger of both bands' distances from what was expected.
fn farther(whole: &Measure, audible: &Measure) -> Level {
    let distance = |measure: &Measure| measure.change_db.minus(measure.expected_db);
    let [whole, audible] = [distance(whole), distance(audible)];
    match (whole.finite(), audible.finite()) {
        (Some(x), Some(y)) if y.abs() > x.abs() => audible,
        (None, Some(_)) => audible,
        _ => whole,
    }
}

fn judged(within: bool, look: &Look) -> (&'static str, Color32) {
    if within { ("within", look.palette.clear) } else { ("off", look.palette.fault) }
}

/// The answer, or how far the test has come; `waiting` where nothing is known of it.
pub fn answer(ui: &Ui, look: &Look, place: Rect, record: Option<&SumTestRecord>, waiting: &str) {
    let words = match record {
        None => waiting.to_owned(),
        Some(record) => match record.verdict {
            Some(verdict) => format!("{}. {}", verdict.word(), record.sentence),
            None => record.sentence.clone(),
        },
    };
    let galley = fitting(ui.painter(), look, &SIZES, place.size(), &words);
    ui.painter().galley(place.min, galley, look.palette.text);
    panel::describe(ui, place, "answer", || words.clone());
}
