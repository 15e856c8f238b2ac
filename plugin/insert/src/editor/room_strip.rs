//! The room on one level axis: where the meter stands and where the audible band stands against the
//! ceiling, what is withheld between them, and how far the level may be lifted towards its target.

mod axis;
mod lanes;

use egui::{Align2, Painter, Rect, Stroke, Ui, pos2, vec2};
use ledgerline_measure::reading::Reading;
use ledgerline_measure::{Level, words};

use self::axis::Axis;
use self::lanes::{APART, Drawn, Lane};
use super::look::Look;
use super::marks::{self, Band, Towards};
use super::palette::tint;
use super::panel;

/// Width of names and numbers, in units.
const WORDS_UNITS: f32 = 15.4;
/// Height of the scale under the lanes, in units.
const SCALE_UNITS: f32 = 1.2;

/// Draws the room.
pub fn show(ui: &Ui, look: &Look, rect: Rect, reading: &Reading) {
    let window_s = reading.windows.peak_window_s;
    let remark = if window_s > 0.0 {
        format!("bars: highest of the latest {} s", words::plain(window_s))
    } else {
        String::new()
    };
    let content = panel::show(ui, look, rect, "Room under the ceiling", &remark);
    let words_right = content.left() + look.units(WORDS_UNITS);
    let (left, right) = (words_right + look.units(1.1), content.right() - look.units(0.5));
    let top = content.top() + axis::labels_height(look, right - left);
    let area = Rect::from_min_max(
        pos2(left, top),
        pos2(right, content.bottom() - look.units(SCALE_UNITS)),
    );
    let axis = Axis::new(reading, area);
    axis::scale(ui.painter(), look, &axis);
    axis::limits(ui.painter(), look, &axis, reading);
    let lanes = lanes::lanes(look, reading);
    let height = area.height() / lanes.len() as f32;
    for (index, lane) in lanes.iter().enumerate() {
        let top = area.top() + height * index as f32;
        let row =
            Rect::from_min_max(pos2(content.left(), top), pos2(content.right(), top + height));
        if APART.contains(&index) {
            ui.painter().hline(row.x_range(), top, Stroke::new(look.hairline(), look.palette.rule));
        }
        write(ui.painter(), look, row, words_right, lane);
        draw(ui.painter(), look, &axis, row.center().y, lane);
        panel::describe(ui, row, lane.name, || {
            format!("{}: {} {}", lane.spoken, lane.number, lane.unit)
        });
    }
}

/// Name, number and unit of a lane.
fn write(painter: &Painter, look: &Look, row: Rect, right: f32, lane: &Lane) {
    let (palette, y) = (look.palette, row.center().y);
    if let Drawn::Withheld(..) = lane.drawn {
        // The line that the screen is there for.
        let from = row.min - vec2(look.units(0.3), 0.0);
        let words = Rect::from_min_max(from, pos2(right, row.bottom()));
        painter.rect_filled(words, look.units(0.2), tint(palette.hidden, marks::HIDDEN_SHADE));
    }
    let left = pos2(row.left(), y);
    painter.text(left, Align2::LEFT_CENTER, lane.name, look.words(0.94), palette.text);
    let unit = pos2(right - look.units(2.5), y);
    painter.text(unit, Align2::LEFT_CENTER, lane.unit, look.words(0.82), palette.quiet);
    let number = unit - vec2(look.units(0.35), 0.0);
    painter.text(number, Align2::RIGHT_CENTER, &lane.number, look.digits(1.06), lane.colour);
}

/// The picture of a lane.
fn draw(painter: &Painter, look: &Look, axis: &Axis, y: f32, lane: &Lane) {
    match lane.drawn {
        Drawn::Nothing => {}
        Drawn::Peak { held, recent, band } => peak(painter, look, axis, y, [held, recent], band),
        Drawn::Energy(level) => {
            if let Some(x) = axis.place(level) {
                marks::energy(painter, look, pos2(x, y), Band::Audible);
            }
        }
        Drawn::Span(from, to) | Drawn::Withheld(from, to) => {
            let (Some(from), Some(to)) = (axis.place(from), axis.place(to)) else {
                return;
            };
            if let Drawn::Withheld(..) = lane.drawn {
                let half = look.units(0.42);
                let bar = Rect::from_x_y_ranges(from.min(to)..=from.max(to), y - half..=y + half);
                marks::dense_hatching(painter, look, bar);
            }
            marks::span(painter, look, pos2(from, y), to, lane.colour);
        }
    }
}

/// The mark of a held peak over the bar of the latest seconds.
fn peak(
    painter: &Painter,
    look: &Look,
    axis: &Axis,
    y: f32,
    [held, recent]: [Level; 2],
    band: Band,
) {
    let base = y + look.units(0.42);
    if let Some(x) = axis.place(recent) {
        let half = look.units(0.13);
        let bar = Rect::from_x_y_ranges(axis.area.left()..=x, base - half..=base + half);
        painter.rect_filled(bar, 0.0, band.colour(look.palette));
    }
    if let Some(x) = axis.place(held) {
        marks::peak(painter, look, pos2(x, base), Towards::Down, band);
    }
}
