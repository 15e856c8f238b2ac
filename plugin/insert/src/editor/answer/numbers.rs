//! The two large numbers: how far one can go now, and how far after the filters. The first is safe as the
//! mix stands, the second once the account's filters are in; so the first is the larger.

use egui::accesskit::Role;
use egui::{Align2, Color32, Rect, Sense, Ui, WidgetInfo, pos2};
use ledgerline_measure::verdict::thresholds::NOTHING_DB;
use ledgerline_measure::{Level, Reading, words};

use crate::editor::glance::{Glance, Past};
use crate::editor::look::Look;
use crate::editor::marks::fitted;
use crate::editor::{numbers, panel};
use crate::history::Span;

/// Sizes of the numbers, in units, the largest that fit: the first, the second. Digits are 0.73 of
/// their size high: from 1100 × 760 points on, both are 40 points high at least.
const SIZES_UNITS: [[f32; 2]; 5] = [[5.0, 4.1], [4.2, 3.5], [3.4, 2.8], [2.6, 2.1], [1.9, 1.6]];
/// Size of the words, in units.
const WORDS_UNITS: f32 = 1.05;
/// Width of the unit beside a number, in units.
const UNIT_UNITS: f32 = 2.6;
/// Height of a line of words, in units.
const LINE_UNITS: f32 = 1.35;

/// A number, with what it is.
struct Number {
    label: &'static str,
    /// The same where there is little space.
    short: &'static str,
    value: String,
    unit: &'static str,
    note: &'static str,
    /// What is said instead where there is space, in versions that get shorter.
    more: Vec<String>,
    colour: Color32,
}

/// Draws both, and lets overs be looked at.
pub(in crate::editor) fn show(
    ui: &mut Ui,
    look: &Look,
    rect: Rect,
    glance: &Glance,
    overs_seen: &mut u64,
    past: &mut Option<Past>,
) {
    ui.painter().rect_filled(rect, look.units(0.3), look.palette.panel);
    let inner = rect.shrink2(egui::vec2(look.units(0.7), look.units(0.35)));
    let reading = &glance.shown.reading;
    let overs = reading.whole.bus.overs.unwrap_or(0);
    let unseen = overs > *overs_seen && past.is_none();
    let first = match unseen {
        true => over(look, reading, first_over_s(glance)),
        false => now(look, reading),
    };
    let second = after_filters(look, reading);
    // Where there is little height the two stand side by side.
    let aside = inner.height() < look.units(10.5);
    let middle = inner.left() + inner.width() * 0.53;
    let (one, other) = if aside {
        let right = pos2(middle - look.units(0.4), inner.bottom());
        (
            Rect::from_min_max(inner.min, right),
            Rect::from_min_max(pos2(middle, inner.top()), inner.max),
        )
    } else {
        let height = inner.height().min(look.units(17.0));
        let split = inner.top() + height * 0.54;
        (
            Rect::from_min_max(inner.min, pos2(inner.right(), split)),
            Rect::from_min_max(
                pos2(inner.left(), split),
                pos2(inner.right(), inner.top() + height),
            ),
        )
    };
    let scope = &glance.scope;
    // As large as both can be: the one that is always safe is never the smaller.
    let steps = [step(ui, look, one, &first, 0), step(ui, look, other, &second, 1)];
    let sizes = SIZES_UNITS[steps[0].max(steps[1])];
    let part = |index: usize| Part { index, size: sizes[index], aside };
    draw(ui, look, one, &first, scope, part(0));
    draw(ui, look, other, &second, scope, part(1));
    if unseen {
        let response = ui.interact(one, ui.scope_id().with("look at overs"), Sense::click());
        response.widget_info(|| WidgetInfo::labeled(Role::Button, true, "Look at the overs"));
        panel::focus_ring(ui, look, &response);
        if response.on_hover_text("Seen: show the room again").clicked() {
            *overs_seen = overs;
            let at_s = first_over_s(glance);
            let kept = at_s.and_then(|at_s| glance.given.history.moments.nearest(at_s));
            *past = kept.map(Past::moment);
        }
    }
}

/// Which of the numbers, and whether they stand side by side.
#[derive(Clone, Copy)]
struct Part {
    index: usize,
    /// Size of the number, in units.
    size: f32,
    aside: bool,
}

/// Height that a number has, beside its words, and whether there is a note under it.
fn height(look: &Look, place: Rect) -> (f32, bool) {
    let line = look.units(LINE_UNITS);
    let free = place.height() - line;
    let note = free >= look.units(1.6) + line;
    (free - if note { line } else { 0.0 }, note)
}

/// The largest size of [`SIZES_UNITS`] in which a number fits, counted from the first.
fn step(ui: &Ui, look: &Look, place: Rect, number: &Number, index: usize) -> usize {
    let (height, _) = height(look, place);
    let fits = |sizes: &[f32; 2]| {
        let font = look.digits(sizes[index]);
        let galley = ui.painter().layout_no_wrap(number.value.clone(), font, number.colour);
        let width = galley.size().x + look.units(UNIT_UNITS);
        galley.size().y * 0.86 <= height && width <= place.width()
    };
    SIZES_UNITS.iter().position(fits).unwrap_or(SIZES_UNITS.len() - 1)
}

fn draw(ui: &Ui, look: &Look, place: Rect, number: &Number, scope: &str, part: Part) {
    let painter = ui.painter();
    let line = look.units(LINE_UNITS);
    let (height, note) = height(look, place);
    let (size, unit_width) = (part.size, look.units(UNIT_UNITS));
    let words = look.words(WORDS_UNITS);
    let quiet = look.palette.quiet;
    let write = |y: f32, text: &str| {
        let at = pos2(place.left(), y);
        fitted(painter, at, Align2::LEFT_CENTER, place.width(), text, words.clone(), quiet);
    };
    write(place.top() + line / 2.0, if part.aside { number.short } else { number.label });
    let middle = place.top() + line + height.min(look.units(size * 1.15)) / 2.0;
    let at = pos2(place.left(), middle);
    let drawn =
        painter.text(at, Align2::LEFT_CENTER, &number.value, look.digits(size), number.colour);
    if drawn.width() + unit_width <= place.width() {
        let at = pos2(drawn.right() + look.units(0.3), middle + look.units(size * 0.2));
        painter.text(at, Align2::LEFT_CENTER, number.unit, look.words(1.1), quiet);
    }
    if note {
        let said = match (part.aside, part.index) {
            (true, 1) => vec!["filters".to_owned()],
            _ if !number.more.is_empty() => number.more.clone(),
            (false, 0) => vec![format!("{}, {scope}", number.note), number.note.to_owned()],
            _ => vec![number.note.to_owned()],
        };
        let fits = |text: &&String| {
            let galley = painter.layout_no_wrap((*text).clone(), words.clone(), quiet);
            galley.size().x <= place.width()
        };
        if let Some(said) = said.iter().find(fits).or(said.last()) {
            write(middle + look.units(size * 0.56) + line / 2.0, said);
        }
    }
    let spoken = format!(
        "{} {} {}, {} {}, {scope}",
        number.label,
        number.value,
        number.unit,
        number.note,
        number.more.first().map_or("", String::as_str)
    );
    panel::describe(ui, place, number.label, || spoken.clone());
}

/// When the first over came since reset, in seconds since the first frame: where all moments are kept,
/// else as far as the columns tell.
fn first_over_s(glance: &Glance) -> Option<f64> {
    if let Some(first_s) = glance.shown.reading.first_over_s() {
        return Some(glance.begins_s + first_s);
    }
    let (mut columns, _) = glance.columns().of(Span::Everything);
    let column = columns.find(|column| column.overs > 0 && column.end_s > glance.begins_s)?;
    Some(column.start_s.max(glance.begins_s))
}

/// How far the mix has to be turned down where the bus goes over full scale.
fn over(look: &Look, reading: &Reading, first_s: Option<f64>) -> Number {
    let bus = &reading.whole.bus;
    let times = words::counted(bus.overs.unwrap_or(0), "over", "overs");
    let since =
        first_s.map_or(String::new(), |s| format!(", first at {}", words::moment(s.floor(), 0)));
    let peak = words::change(bus.true_peak_dbtp, 1);
    let more = vec![format!("{times}{since}, up to {peak} dBTP"), format!("{times}{since}"), times];
    let down = Level::from_db(reading.room_now_db().finite().unwrap_or(0.0).min(0.0));
    let labels = ["OVER FULL SCALE", "OVER, TURN DOWN BY"];
    let number = number(labels, ["OVER", "OVER: DOWN"], down, "", look.palette.fault);
    Number { more, ..number }
}

/// How far the mix can go as it stands.
fn now(look: &Look, reading: &Reading) -> Number {
    let (room, colour) = (&reading.room, look.palette.text);
    let labels = |lift| [lift, "TURN DOWN NOW"];
    match room.target {
        Some(_) => {
            let limit = limit(reading.lift_now_db, room.lift_db);
            let short = ["LIFT NOW", "DOWN NOW"];
            number(labels("LIFT NOW"), short, reading.lift_now_db, limit, colour)
        }
        None => {
            let (short, limit) = (["ROOM NOW", "DOWN NOW"], "to the ceiling");
            number(labels("ROOM NOW"), short, reading.room_now_db(), limit, colour)
        }
    }
}

/// How far it can go once what is hidden is filtered out.
fn after_filters(look: &Look, reading: &Reading) -> Number {
    let (room, colour) = (&reading.room, look.palette.audible);
    let labels = ["AFTER FILTERS", "AFTER FILTERS, TURN DOWN"];
    let short = ["AFTER", "DOWN AFTER"];
    match room.target {
        Some(_) => {
            let limit = limit(room.lift_allowed_db, room.lift_db);
            number(labels, short, room.lift_allowed_db, limit, colour)
        }
        None => number(labels, short, room.true_room_db, "to the ceiling", colour),
    }
}

/// What stands in the way of more.
fn limit(allowed_db: Level, lift_db: Level) -> &'static str {
    match (allowed_db.finite(), lift_db.finite()) {
        (Some(allowed), Some(lift)) if allowed < lift - NOTHING_DB => "by the ceiling",
        (Some(_), Some(_)) => "to the target",
        _ => "not known yet",
    }
}

fn number(
    labels: [&'static str; 2],
    shorts: [&'static str; 2],
    level: Level,
    note: &'static str,
    colour: Color32,
) -> Number {
    let down = usize::from(level.finite().is_some_and(|db| db <= -NOTHING_DB));
    let value = match level.finite() {
        Some(db) => words::fixed(db.abs(), 1),
        None => numbers::level(Level::NONE),
    };
    let (label, short) = (labels[down], shorts[down]);
    Number { label, short, value, unit: "dB", note, more: Vec::new(), colour }
}
