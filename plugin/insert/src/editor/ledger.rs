//! The ledger: every reading, a row a signal, the whole band above the audible band and their
//! difference beneath, the bus as the total at the foot.

pub mod columns;

use egui::{Align2, Color32, Rect, Stroke, Ui, pos2, vec2};
use ledgerline_measure::reading::{Levels, Reading, WindowLevels};
use ledgerline_measure::{Halves, RmsReference};

use self::columns::{Cell, Column, GROUPS, RMS, difference, rms_heading};
use super::look::Look;
use super::marks::fitted;
use super::panel;

/// Width of the names of signals and bands, in units.
const NAMES_UNITS: f32 = 9.8;
/// Height of the headings, in units.
const HEADINGS_UNITS: f32 = 3.4;
/// Height of the space between two signals, in units.
const GAP_UNITS: f32 = 0.5;
/// A difference this large has a bar as wide as its cell, in decibels.
const FULL_BAR_DB: f64 = 12.0;

/// A signal of the ledger.
struct Signal<'a> {
    name: &'static str,
    /// Whether its overs mean anything: left and right are not summed on their way out.
    counts_overs: bool,
    explanation: String,
    whole: (&'a Levels, &'a WindowLevels),
    audible: (&'a Levels, &'a WindowLevels),
    total: bool,
}

impl Signal<'_> {
    /// Its readings of a column: whole band, audible band.
    fn cells(&self, column: &Column) -> [Cell; 2] {
        [self.whole, self.audible].map(|(levels, window)| match (column.cell)(levels, window) {
            Cell::Count(_) if !self.counts_overs => Cell::Count(None),
            cell => cell,
        })
    }
}

/// Draws the ledger.
pub fn show(ui: &Ui, look: &Look, rect: Rect, reading: &Reading, reference: RmsReference) {
    let remark = "peaks, overs, crest, integrated and range: since reset";
    let content = panel::show(ui, look, rect, "Ledger", remark);
    let signals = signals(reading);
    let grid = Grid::new(look, content, signals.len());
    headings(ui, look, &grid, reading, reference);
    for (index, signal) in signals.iter().enumerate() {
        rows(ui, look, &grid, index, signal);
    }
}

/// The signals that exist: a mono bus has one, and it is its own total.
fn signals(reading: &Reading) -> Vec<Signal<'_>> {
    let (whole, audible) = (&reading.whole, &reading.audible);
    let (whole_now, audible_now) = (&reading.windows.whole, &reading.windows.audible);
    macro_rules! signal {
        ($field:ident, $name:expr, $explanation:expr, $total:expr) => {
            Signal {
                name: $name,
                counts_overs: true,
                explanation: $explanation.into(),
                whole: (&whole.$field, &whole_now.$field),
                audible: (&audible.$field, &audible_now.$field),
                total: $total,
            }
        };
    }
    let halves = reading.halves;
    if halves == Halves::Mono {
        return vec![signal!(bus, "Bus", halves.word(), true)];
    }
    let ([first, second], [left, right]) = (halves.letters(), halves.names());
    vec![
        signal!(a, first, left, false),
        signal!(b, second, right, false),
        Signal {
            counts_overs: halves != Halves::LeftRight,
            ..signal!(sum, "Sum", halves.sum(), false)
        },
        signal!(bus, "Bus", halves.both(), true),
    ]
}

/// Where the cells lie.
struct Grid {
    area: Rect,
    /// Right edge and width of each column's numbers.
    columns: Vec<(f32, f32)>,
    row_height: f32,
    signal_height: f32,
    first_row: f32,
}

impl Grid {
    fn new(look: &Look, area: Rect, signals: usize) -> Self {
        let first_row = area.top() + look.units(HEADINGS_UNITS);
        let gap = look.units(GAP_UNITS);
        let free = area.bottom() - first_row - gap * signals as f32;
        let row_height = (free / (3 * signals) as f32).min(look.units(2.6));
        Self {
            area,
            columns: column_places(look, area),
            row_height,
            signal_height: 3.0 * row_height + gap,
            first_row: first_row + gap,
        }
    }

    /// The three rows of a signal.
    fn signal(&self, index: usize) -> Rect {
        let top = self.first_row + self.signal_height * index as f32;
        Rect::from_min_size(
            pos2(self.area.left(), top),
            vec2(self.area.width(), 3.0 * self.row_height),
        )
    }
}

/// Right edge and width of each column's numbers: as wide as the columns' weights say.
fn column_places(look: &Look, area: Rect) -> Vec<(f32, f32)> {
    let weights = || GROUPS.iter().flat_map(|group| group.columns.iter().map(|_| group.weight));
    let left = area.left() + look.units(NAMES_UNITS);
    let unit = (area.right() - left) / weights().sum::<f32>();
    let mut right = left;
    let place = |weight: f32| {
        right += weight * unit;
        (right - look.units(0.3), weight * unit - look.units(0.25))
    };
    weights().map(place).collect()
}

fn headings(ui: &Ui, look: &Look, grid: &Grid, reading: &Reading, reference: RmsReference) {
    let (painter, palette) = (ui.painter(), look.palette);
    let top = grid.area.top();
    let (rms_name, rms_unit) = rms_heading(reading.windows.rms_window_s, reference);
    let mut index = 0;
    for group in GROUPS {
        let (first, width) = grid.columns[index];
        let left = first - width + look.units(0.5);
        let right = grid.columns[index + group.columns.len() - 1].0;
        let line = top + look.units(1.25);
        let at = pos2(left, top + look.units(0.6));
        painter.text(at, Align2::LEFT_CENTER, group.name, look.words(0.9), palette.text);
        painter.hline(left..=right, line, Stroke::new(look.hairline(), palette.axis));
        for column in group.columns {
            let (name, unit) = match column.name {
                RMS => (rms_name.as_str(), rms_unit),
                name => (name, column.unit),
            };
            heading(ui, look, grid, index, column, (name, unit));
            index += 1;
        }
    }
}

fn heading(ui: &Ui, look: &Look, grid: &Grid, index: usize, column: &Column, words: (&str, &str)) {
    let (painter, palette) = (ui.painter(), look.palette);
    let (right, width) = grid.columns[index];
    let middle = grid.area.top() + look.units(1.95);
    let (name, unit) = words;
    let font = look.words(0.86);
    fitted(painter, pos2(right, middle), Align2::RIGHT_CENTER, width, name, font, palette.text);
    let middle = grid.area.top() + look.units(3.0);
    let font = look.words(0.82);
    fitted(painter, pos2(right, middle), Align2::RIGHT_CENTER, width, unit, font, palette.quiet);
    let place = Rect::from_min_max(
        pos2(right - width, grid.area.top() + look.units(1.3)),
        pos2(right, grid.first_row),
    );
    panel::describe(ui, place, column.name, || format!("{name} in {unit}: {}", column.explanation))
        .on_hover_text(column.explanation);
}

fn rows(ui: &Ui, look: &Look, grid: &Grid, index: usize, signal: &Signal) {
    let (painter, palette) = (ui.painter(), look.palette);
    let place = grid.signal(index);
    let edge = place.top() - look.units(GAP_UNITS) / 2.0;
    let line = Stroke::new(look.hairline(), if signal.total { palette.axis } else { palette.rule });
    if signal.total {
        let behind = place.expand2(vec2(look.units(0.3), look.units(0.1)));
        painter.rect_filled(behind, look.units(0.2), palette.raised);
        // A total stands under a double line.
        painter.hline(place.x_range(), edge - look.units(0.1), line);
    }
    painter.hline(place.x_range(), edge + look.units(0.08), line);

    let middle = place.top() + grid.row_height * 0.5;
    painter.text(
        pos2(place.left(), middle),
        Align2::LEFT_CENTER,
        signal.name,
        look.words(1.2),
        palette.text,
    );
    let at = pos2(place.left(), middle + grid.row_height);
    painter.text(at, Align2::LEFT_CENTER, &signal.explanation, look.words(0.86), palette.quiet);

    let names =
        [("whole", palette.whole), ("audible", palette.audible), ("difference", palette.hidden)];
    for (row, (name, colour)) in names.into_iter().enumerate() {
        let at = pos2(place.left() + look.units(4.6), middle + grid.row_height * row as f32);
        painter.text(at, Align2::LEFT_CENTER, name, look.words(0.94), colour);
    }
    let columns = GROUPS.iter().flat_map(|group| group.columns);
    for (column, definition) in columns.enumerate() {
        let [whole, audible] = signal.cells(definition);
        cells(ui, look, grid, place, column, whole, audible);
    }
    panel::describe(ui, place, signal.name, || in_words(signal));
}

/// The three numbers of a signal in one column.
fn cells(
    ui: &Ui,
    look: &Look,
    grid: &Grid,
    place: Rect,
    column: usize,
    whole: Cell,
    audible: Cell,
) {
    let (painter, palette) = (ui.painter(), look.palette);
    let (right, width) = grid.columns[column];
    // Where there are fewer signals there is space for larger numbers.
    let size = 0.98 * (grid.row_height / look.units(1.7)).clamp(1.0, 1.2);
    let write = |row: f32, text: String, colour: Color32| {
        let at = pos2(right, place.top() + grid.row_height * (row + 0.5));
        painter.text(at, Align2::RIGHT_CENTER, text, look.digits(size), colour);
    };
    write(0.0, whole.text(), palette.whole);
    write(1.0, audible.text(), palette.audible);
    let difference = difference(whole, audible);
    let agrees = difference.db.is_none_or(|db| db.abs() < 0.05);
    if let Some(db) = difference.db.filter(|_| !agrees) {
        let length = (db.abs() / FULL_BAR_DB).min(1.0) as f32 * width;
        // Under the digits, not behind them.
        let size = vec2(length, look.units(0.16).max(1.5));
        let foot = place.top() + 3.0 * grid.row_height;
        let bar = Rect::from_min_size(pos2(right - length, foot - size.y), size);
        painter.rect_filled(bar, 0.0, palette.hidden);
    }
    write(2.0, difference.text, if agrees { palette.quiet } else { palette.hidden });
}

/// A signal's readings as a screen reader speaks them.
fn in_words(signal: &Signal) -> String {
    let mut words = format!("{}, {}", signal.name, signal.explanation);
    for column in GROUPS.iter().flat_map(|group| group.columns) {
        let [whole, audible] = signal.cells(column);
        let (name, unit) = (column.name, column.unit);
        words +=
            &format!("; {name}: whole {}, audible {}", whole.spoken(unit), audible.spoken(unit));
    }
    words
}
