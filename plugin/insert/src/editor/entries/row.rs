//! The change row: what moved, and what did not, from one entry to the next.

use egui::{Align2, Rect, Stroke, StrokeKind, Ui, pos2, vec2};
use ledgerline_measure::entries::Change;
use ledgerline_measure::verdict::thresholds::NOTHING_DB;
use ledgerline_measure::{Level, words};

use super::ViewState;
use super::shown::{METERS, listening, shown, why_none};
use crate::editor::look::Look;
use crate::editor::marks::{fitted, fitting};
use crate::editor::panel;
use crate::entries::board::{ChangeTo, Told};

/// Height of a row of the table, in units.
const ROW_UNITS: f32 = 1.65;
/// Width of the names of the bands, in units.
const NAMES_UNITS: f32 = 5.2;
/// A change beyond this leads to silence or from it: filters ring on below what can be heard.
const SILENCE_DB: f64 = 100.0;
/// Sizes that the sentence may take, in units.
const SIZES: [f32; 4] = [1.25, 1.15, 1.05, 1.0];

/// Draws it.
pub(in crate::editor) fn show(ui: &Ui, look: &Look, rect: Rect, told: &Told, view: &ViewState) {
    let yours = view.yours;
    let pair = view.pair();
    let change = shown(told, view);
    let title = match (change, pair) {
        (Some(change), _) => format!("Entry {} to {}", change.change.against, change.to),
        (None, Some([one, other])) => format!("Entry {one} to {other}"),
        (None, None) => "Change".to_owned(),
    };
    let content = panel::show(ui, look, rect, &title, &remark(told, change, view));
    let Some(change) = change else {
        let words = why_none(told, view);
        panel::empty(ui, look, content, words);
        panel::describe(ui, content, "row of no change", || words.to_owned());
        return;
    };
    let change = &change.change;
    let row = look.units(ROW_UNITS);
    let rows = Rect::from_min_max(content.min, pos2(content.right(), content.top() + 3.0 * row));
    table(ui, look, rows, change);
    let place =
        Rect::from_min_max(pos2(content.left(), rows.bottom() + look.units(0.2)), content.max);
    let first = first_sentence(&change.sentence).to_owned();
    let yours = yours.and_then(|kind| change.on_yours(kind));
    let sentence = yours.map_or(first.clone(), |yours| format!("{yours} {first}"));
    let galley = fitting(ui.painter(), look, &SIZES, place.size(), &sentence);
    if galley.size().y <= place.height() + look.units(0.3) {
        ui.painter().galley(place.min, galley, look.palette.text);
    }
    panel::describe(ui, place, "row of what changed", || change.sentence.clone())
        .on_hover_text(&change.sentence);
}

/// Where the change lies, and whether something newer is listened to.
fn remark(told: &Told, change: Option<&ChangeTo>, view: &ViewState) -> String {
    let at = change.and_then(|change| {
        let listed = told.ended.iter().chain(&told.under_way);
        let listed = listed.into_iter().find(|listed| listed.number == change.to)?;
        Some(format!("at {}", words::moment(listed.start_s.floor(), 0)))
    });
    let what = change.map(|change| change.change.what.word().to_owned());
    at.into_iter().chain(what).chain(listening(told, view)).collect::<Vec<_>>().join("   ·   ")
}

/// The first of several sentences: what happened.
fn first_sentence(words: &str) -> &str {
    words.split_once(". ").map_or(words, |(first, _)| &words[..first.len() + 1])
}

/// The bus, or the halves' sum where that moved more.
fn sum_moved_more(change: &Change) -> bool {
    let moved = |level: Level| level.db().map_or(0.0, f64::abs);
    METERS.iter().any(|(detector, ..)| {
        let (sum, bus) = (change.whole.sum.of(*detector), change.whole.bus.of(*detector));
        moved(sum) > moved(bus) + 0.3
    })
}

fn table(ui: &Ui, look: &Look, place: Rect, change: &Change) {
    let (painter, palette) = (ui.painter(), look.palette);
    let of_sum = sum_moved_more(change);
    let of = |audible: bool, detector| {
        let band = if audible { &change.audible } else { &change.whole };
        if of_sum { band.sum.of(detector) } else { band.bus.of(detector) }
    };
    let row = place.height() / 3.0;
    let left = place.left() + look.units(NAMES_UNITS);
    let width = (place.right() - left) / METERS.len() as f32;
    let y = |line: usize| place.top() + row * (line as f32 + 0.5);
    let signal = if of_sum { "sum" } else { "bus" };
    let at = pos2(place.left(), y(0));
    painter.text(at, Align2::LEFT_CENTER, signal, look.words(1.05), palette.quiet);
    for (line, (name, colour)) in
        [("whole", palette.whole), ("audible", palette.audible)].into_iter().enumerate()
    {
        let at = pos2(place.left(), y(line + 1));
        painter.text(at, Align2::LEFT_CENTER, name, look.words(1.05), colour);
    }
    let some_moved = METERS
        .iter()
        .any(|(detector, ..)| of(false, *detector).db().is_some_and(|db| db.abs() >= 0.5));
    for (index, (detector, name, unit)) in METERS.into_iter().enumerate() {
        let x = left + width * index as f32;
        let at = pos2(x, y(0));
        let title = format!("{name}, {unit}");
        let heading = look.words(1.0);
        let space = width - look.units(0.4);
        fitted(painter, at, Align2::LEFT_CENTER, space, &title, heading, palette.quiet);
        let mut spoken = format!("{signal}, {title}");
        for (line, audible) in [false, true].into_iter().enumerate() {
            let level = of(audible, detector);
            let unmoved = level.db().is_some_and(|db| db.abs() < NOTHING_DB);
            let text = moved(level);
            let colour = if audible { palette.audible } else { palette.whole };
            let font = if unmoved { look.words(1.05) } else { look.digits(1.2) };
            let at = pos2(x, y(line + 1));
            let drawn = painter.text(at, Align2::LEFT_CENTER, &text, font, colour);
            if unmoved && some_moved {
                // What did not move is the point.
                let frame = drawn.expand2(vec2(look.units(0.3), look.units(0.02)));
                let stroke = Stroke::new(look.hairline(), colour);
                painter.rect_stroke(frame, look.units(0.2), stroke, StrokeKind::Inside);
            }
            spoken += &format!(", {} {text}", if audible { "audible" } else { "whole" });
        }
        let across = Rect::from_x_y_ranges(x..=x + width, place.y_range());
        panel::describe(ui, across, &format!("row {name}"), || spoken.clone());
    }
}

/// A difference with an arrow for its sign.
fn moved(level: Level) -> String {
    match level.db() {
        None => words::NONE.into(),
        Some(db) if db.abs() < NOTHING_DB => "unchanged".into(),
        Some(db) if db <= -SILENCE_DB => "\u{2193} to silence".into(),
        Some(db) if db >= SILENCE_DB => "\u{2191} from silence".into(),
        Some(db) if db > 0.0 => format!("\u{2191} {}", words::fixed(db, 1)),
        Some(db) => format!("\u{2193} {}", words::fixed(-db, 1)),
    }
}
