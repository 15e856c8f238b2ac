//! The table of steps: what the mixer's own meter showed, to be typed in, and how much the level
//! changed against step 1, in both bands, beside what an ideal sum changes; and the answer under it.

use egui::{Align2, Color32, Rect, Stroke, Ui, pos2};
use ledgerline_measure::sum_test::STEPS;
use ledgerline_measure::sum_test::{Measure, StepRecord};
use ledgerline_measure::{Level, words};

use super::fields::{self, Typed};
use crate::editor::look::Look;
use crate::editor::marks::{fitted, fitting};
use crate::editor::{numbers, panel};
use crate::sum_test::entries::Entries;
use crate::sum_test::record::SumTestRecord;

/// Height of a row, in units.
const ROW_UNITS: f32 = 1.42;
/// Tables narrower than this leave the audible band out, in units.
const WIDE_UNITS: f32 = 50.0;
/// Width of a column of numbers, in units, and of the word at the right.
const COLUMN_UNITS: f32 = 3.8;
const WORD_UNITS: f32 = 3.7;
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
    let columns = Columns::new(look, content);
    head(ui, look, content, &columns);
    let measured = record.map_or(&[][..], |record| &record.steps);
    for (index, step) in STEPS.iter().enumerate() {
        let top = content.top() + row * (index + HEAD_ROWS) as f32;
        let place = Rect::from_x_y_ranges(content.x_range(), top..=top + row);
        let of = (step.number, step.name);
        line(ui, look, place, &columns, of, measured.get(index));
        if entries.asks_for(index) {
            let right = place.right() - look.units(columns.shown);
            let across = right - look.units(FIELD_UNITS)..=right;
            let field = Rect::from_x_y_ranges(across, place.shrink(look.units(0.08)).y_range());
            fields::show(ui, look, field, index, entries, typed);
        } else {
            let at = pos2(place.right() - look.units(columns.shown + 0.35), place.center().y);
            let font = look.words(0.84);
            ui.painter().text(at, Align2::RIGHT_CENTER, "not asked", font, look.palette.quiet);
        }
    }
    typed.move_on(ui);
    content.top() + row * (STEPS.len() + HEAD_ROWS) as f32
}

/// The columns of a table, and where they end, in units from its right edge.
struct Columns {
    /// Titles, right edges, and what the number is.
    numbers: Vec<(&'static str, f32, Number)>,
    /// What spans columns: its name, and its right edge.
    groups: Vec<(&'static str, f32)>,
    /// Right edge of the fields to type in.
    shown: f32,
}

/// A number of a row.
#[derive(Clone, Copy)]
enum Number {
    /// What an ideal sum changes: whole band, audible band.
    Ideal(usize),
    /// What was measured.
    Here(usize),
    /// How far the two lie apart in the band where that is more.
    Off,
    /// How far they may.
    Limit,
}

impl Columns {
    fn new(look: &Look, content: Rect) -> Self {
        let is_wide = content.width() >= look.units(WIDE_UNITS);
        let mut right_to_left = vec![("limit", Number::Limit), ("off by", Number::Off)];
        if is_wide {
            right_to_left.extend([("here", Number::Here(1)), ("ideal", Number::Ideal(1))]);
        }
        right_to_left.extend([("here", Number::Here(0)), ("ideal", Number::Ideal(0))]);
        let right = |index: usize| WORD_UNITS + COLUMN_UNITS * index as f32;
        let numbers: Vec<_> = right_to_left
            .into_iter()
            .enumerate()
            .map(|(index, (title, number))| (title, right(index), number))
            .collect();
        let shown = right(numbers.len());
        let mut groups = vec![("your meter", shown), ("whole", right(numbers.len() - 2))];
        groups.extend(is_wide.then_some(("audible", right(2))));
        Self { numbers, groups, shown }
    }
}

fn head(ui: &Ui, look: &Look, content: Rect, columns: &Columns) {
    let (painter, palette) = (ui.painter(), look.palette);
    for (name, column) in &columns.groups {
        let y = content.top() + look.units(ROW_UNITS) * 0.5;
        let at = pos2(content.right() - look.units(*column), y);
        painter.text(at, Align2::RIGHT_CENTER, *name, look.words(0.84), palette.text);
    }
    let y = content.top() + look.units(ROW_UNITS) * 1.5;
    let titles = columns.numbers.iter().map(|(title, column, _)| (*title, *column));
    for (title, column) in titles.chain([("showed, dB", columns.shown)]) {
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
    columns: &Columns,
    (number, name): (usize, &str),
    measured: Option<&StepRecord>,
) {
    let (painter, palette) = (ui.painter(), look.palette);
    let y = place.center().y;
    let colour = if measured.is_some() { palette.text } else { palette.quiet };
    let at = pos2(place.left() + look.units(1.5), y);
    painter.text(at, Align2::RIGHT_CENTER, number.to_string(), look.digits(0.94), colour);
    let left = place.left() + look.units(2.1);
    let width = place.right() - look.units(columns.shown + FIELD_UNITS) - left;
    fitted(painter, pos2(left, y), Align2::LEFT_CENTER, width, name, look.words(0.94), colour);
    let Some(bands) = measured.and_then(bands) else {
        panel::describe(ui, place, name, || format!("Step {number}, {name}: not measured yet"));
        return;
    };
    let [whole, audible] = bands;
    let (farther, off) = farther(whole, audible);
    let write = |of: Number| match of {
        Number::Ideal(band) => (numbers::difference(bands[band].expected_db), palette.quiet),
        Number::Here(band) => {
            let colour = if band == 0 { palette.whole } else { palette.audible };
            (numbers::difference(bands[band].change_db), colour)
        }
        Number::Off => (numbers::difference(off), palette.text),
        Number::Limit => (words::level(farther.tolerance_db, 2), palette.quiet),
    };
    for (_, column, of) in &columns.numbers {
        let (text, colour) = write(*of);
        let at = pos2(place.right() - look.units(*column), y);
        painter.text(at, Align2::RIGHT_CENTER, text, look.digits(0.94), colour);
    }
    let (word, colour) = judged(whole.within && audible.within, look);
    painter.text(pos2(place.right(), y), Align2::RIGHT_CENTER, word, look.words(0.94), colour);
    let of = |number: Number| write(number).0;
    panel::describe(ui, place, name, || {
        format!(
            "Step {number}, {name}: whole {}, ideal {}, audible {}, ideal {}, {word}, limit {} dB",
            of(Number::Here(0)),
            of(Number::Ideal(0)),
            of(Number::Here(1)),
            of(Number::Ideal(1)),
            of(Number::Limit)
        )
    });
}

/// What the detector read in the whole and in the audible band.
fn bands(step: &StepRecord) -> Option<[&Measure; 2]> {
    let band = |name: &str| step.bands.get(name)?.get(DETECTOR);
    Some([band("whole")?, band("audible")?])
}

/// The measure that lies farther from what was expected, and how far.
fn farther<'a>(whole: &'a Measure, audible: &'a Measure) -> (&'a Measure, Level) {
    let distance = |measure: &Measure| measure.change_db.minus(measure.expected_db);
    let distances = [distance(whole), distance(audible)];
    match distances.map(Level::finite) {
        [Some(x), Some(y)] if y.abs() > x.abs() => (audible, distances[1]),
        [None, Some(_)] => (audible, distances[1]),
        _ => (whole, distances[0]),
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
