//! The table of steps: how much the level changed against step 1, in both bands, beside what an
//! ideal sum changes; and the answer under it.

use egui::{Align2, Color32, Rect, Stroke, Ui, pos2};
use ledgerline_measure::Level;
use ledgerline_measure::sum_test::audit::{Measure, StepRecord};
use ledgerline_measure::sum_test::{STEPS, Verdict};

use crate::editor::look::Look;
use crate::editor::marks::fitted;
use crate::editor::{numbers, panel};
use crate::sum_test::record::SumTestRecord;

/// Height of a row, in units.
const ROW_UNITS: f32 = 1.42;
/// Right edges of the columns of numbers, in units from the right edge of the table.
const COLUMNS_UNITS: [f32; 5] = [22.4, 18.2, 13.2, 9.0, 4.6];
const TITLES: [&str; 5] = ["ideal", "here", "ideal", "here", "off by"];
/// What spans two columns: its name, and its right edge as above.
const GROUPS: [(&str, f32); 2] = [("whole band", 18.2), ("audible band", 9.0)];
/// Rows of the head.
const HEAD_ROWS: usize = 2;
/// The detector that the table shows: what a sum is about is energy.
const DETECTOR: &str = "rms";

/// Draws the table.
pub fn show(ui: &mut Ui, look: &Look, rect: Rect, record: &SumTestRecord) {
    let content = panel::show(ui, look, rect, "Steps", "RMS against step 1, dB");
    let row = look.units(ROW_UNITS);
    head(ui, look, content);
    for (index, step) in STEPS.iter().enumerate() {
        let top = content.top() + row * (index + HEAD_ROWS) as f32;
        let place = Rect::from_x_y_ranges(content.x_range(), top..=top + row);
        line(ui, look, place, step.number, step.name, record.steps.get(index));
    }
    let top = content.top() + row * (STEPS.len() + HEAD_ROWS) as f32 + look.units(0.4);
    answer(ui, look, Rect::from_min_max(pos2(content.left(), top), content.max), record);
}

fn head(ui: &Ui, look: &Look, content: Rect) {
    let (painter, palette) = (ui.painter(), look.palette);
    for (name, column) in GROUPS {
        let y = content.top() + look.units(ROW_UNITS) * 0.5;
        let at = pos2(content.right() - look.units(column), y);
        painter.text(at, Align2::RIGHT_CENTER, name, look.words(0.84), palette.text);
    }
    let y = content.top() + look.units(ROW_UNITS) * 1.5;
    for (title, column) in TITLES.iter().zip(COLUMNS_UNITS) {
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
    let width = place.right() - look.units(COLUMNS_UNITS[0] + 4.6) - left;
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

/// The answer, or how far the test has come.
fn answer(ui: &Ui, look: &Look, place: Rect, record: &SumTestRecord) {
    let word = match record.verdict {
        Some(Verdict::SumsCorrectly) => "Sums correctly. ",
        Some(Verdict::Faulty) => "Faulty. ",
        Some(Verdict::CannotTell) => "No answer. ",
        None => "",
    };
    let words = format!("{word}{}", record.sentence);
    // The largest size in which it is seen whole.
    let sizes = [1.2, 1.08, 0.96, 0.88];
    let layout = |size: f32| {
        let font = look.words(size);
        ui.painter().layout(words.clone(), font, look.palette.text, place.width())
    };
    let galley = sizes
        .into_iter()
        .map(layout)
        .find(|galley| galley.size().y <= place.height())
        .unwrap_or_else(|| layout(sizes[sizes.len() - 1]));
    ui.painter().galley(place.min, galley, look.palette.text);
    panel::describe(ui, place, "answer", || words.clone());
}
