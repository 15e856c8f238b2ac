//! All entries, the latest first. Two of them can be picked, to be compared; what the user's own meter
//! showed can be typed beside each, and which kind that is stands under them.

use egui::accesskit::Role;
use egui::{Align2, Button, Id, Rect, RichText, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};
use ledgerline_measure::words;

use super::ViewState;
use crate::editor::glance::{Glance, Past};
use crate::editor::look::Look;
use crate::editor::marks::{fitted, fitting};
use crate::editor::panel;
use crate::editor::typed_field::{self, Field};
use crate::entries::board::{Listed, Told};

/// Height of a row, in units.
const ROW_UNITS: f32 = 1.4;
/// Where the columns lie, in units from the left: the number's right edge, the moment's, what it
/// begins with, and what changed.
const COLUMNS_UNITS: [f32; 4] = [3.2, 8.6, 9.1, 14.2];
/// Height of the words over the fields, in units.
const HEAD_UNITS: f32 = 1.1;
/// Sizes that the answer may take, in units.
const SIZES: [f32; 4] = [1.05, 0.98, 0.92, 0.86];
/// Most of the height that the answer takes.
const ANSWER_SHARE: f32 = 0.55;
/// Size of the words and numbers, in units.
const SIZE: f32 = 1.05;

/// Draws the list and changes what the user picks and types; so wide are the fields with the sign
/// before them, where there is space for them. Returns the entry that is to be shown.
pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    (rect, fields): (Rect, f32),
    glance: &Glance,
    state: &mut ViewState,
) -> Option<Past> {
    let told = &glance.entries;
    let content = panel::show(ui, look, rect, "Entries", &remark(told));
    let row = look.units(ROW_UNITS);
    let mut foot = content.bottom() - look.units(ROW_UNITS + 0.2);
    state.beside.follow(&told.ended);
    if let Some(words) = state.beside.answer(&told.ended).filter(|_| fields > 0.0) {
        let most = vec2(content.width(), (foot - content.top()) * ANSWER_SHARE);
        let galley = fitting(ui.painter(), look, &SIZES, most, words);
        foot -= galley.size().y + look.units(0.4);
        let at = pos2(content.left(), foot + look.units(0.2));
        let place = Rect::from_min_size(at, galley.size());
        ui.painter().galley(at, galley, look.palette.text);
        panel::describe(ui, place, "your meter", || words.to_owned());
    }
    let mut top = content.top();
    if !told.ended.is_empty() && fields > 0.0 {
        top += look.units(HEAD_UNITS);
        let at = pos2(content.right(), content.top() + look.units(HEAD_UNITS * 0.5));
        let (head, font) = ("your meter showed, dB", look.words(0.84));
        ui.painter().text(at, Align2::RIGHT_CENTER, head, font, look.palette.quiet);
    }
    if let Some(listed) = &told.under_way {
        let place = Rect::from_x_y_ranges(content.x_range(), top..=top + row);
        line(ui, look, place, listed, "under way");
        panel::describe(ui, place, "under way", || spoken(listed, "under way"));
        top += row;
    }
    let space = (((foot - top) / row).floor().max(0.0)) as usize;
    let earliest = told.ended.len().saturating_sub(space);
    state.later = state.later.min(earliest);
    for listed in told.ended.iter().rev().skip(state.later).take(space) {
        let place = Rect::from_x_y_ranges(content.x_range(), top..=top + row);
        let split = place.right() - fields;
        entry(ui, look, place.with_max_x(split), listed, state);
        if fields > 0.0 {
            let field = place.with_min_x(split).shrink2(vec2(0.0, look.units(0.06)));
            beside(ui, look, field, listed, state);
        }
        top += row;
    }
    let foot = content.bottom() - look.units(ROW_UNITS);
    let foot = Rect::from_min_max(pos2(content.left(), foot), content.max);
    if !turn(ui, look, foot, space, earliest, state) {
        return None;
    }
    let listed = told.ended.iter().find(|listed| Some(listed.number) == state.latest_pick())?;
    Some(Past::entry(listed, glance.given.history.moments.nearest(listed.end_s)))
}

/// What the list leaves out, and what its sign means.
fn remark(told: &Told) -> String {
    let lacks = |listed: &Listed| listed.incomplete;
    let marked = told.ended.iter().any(lacks) || told.under_way.as_ref().is_some_and(lacks);
    let older =
        (told.older > 0).then(|| format!("{} older not kept", words::count(Some(told.older))));
    let marked = marked.then(|| "* sound is missing".to_owned());
    older.into_iter().chain(marked).collect::<Vec<_>>().join("; ")
}

/// An entry that can be picked.
fn entry(ui: &Ui, look: &Look, place: Rect, listed: &Listed, state: &mut ViewState) {
    let picked = state.picked.contains(&Some(listed.number));
    let what = listed.what.map_or("", |what| what.word());
    let response = ui.interact(place, ui.scope_id().with(("entry", listed.number)), Sense::click());
    response.widget_info(|| WidgetInfo::selected(Role::Button, true, picked, spoken(listed, what)));
    if picked || response.hovered() {
        ui.painter().rect_filled(place, look.units(0.2), look.palette.raised);
    }
    if picked {
        let stroke = Stroke::new(look.units(0.14).max(1.5), look.palette.text);
        ui.painter().vline(place.left(), place.y_range(), stroke);
    }
    line(ui, look, place, listed, what);
    panel::focus_ring(ui, look, &response);
    if response.on_hover_text("Pick two entries to compare them").clicked() {
        state.pick(listed.number);
    }
}

/// The field beside an entry.
fn beside(ui: &mut Ui, look: &Look, place: Rect, listed: &Listed, state: &mut ViewState) {
    let number = listed.number;
    let typed = state.beside.text(listed);
    let field = Field {
        id: Id::unique(("shown beside entry", number)),
        label: &format!("Shown in entry {number}"),
        hover: &format!(
            "What your own meter showed during entry {number}, in dB on its own scale: where it \
             settled, or the highest that it held"
        ),
        bad: typed.is_bad(),
    };
    typed_field::show(ui, look, place, &field, &mut typed.text);
}

fn line(ui: &Ui, look: &Look, place: Rect, listed: &Listed, what: &str) {
    let (painter, palette) = (ui.painter(), look.palette);
    let y = place.center().y;
    let x = |column: usize| place.left() + look.units(COLUMNS_UNITS[column]);
    let star = if listed.incomplete { "*" } else { "" };
    let (number, start) = (format!("{}{star}", listed.number), moment(listed.start_s));
    for (column, text) in [(0, &number), (1, &start)] {
        let at = pos2(x(column), y);
        painter.text(at, Align2::RIGHT_CENTER, text, look.digits(SIZE), palette.text);
    }
    let width = |column: usize, right: f32| right - x(column);
    for (column, text, right) in [(2, listed.opened_by.word(), x(3)), (3, what, place.right())] {
        let colour = if column == 3 { palette.text } else { palette.quiet };
        let at = pos2(x(column), y);
        let font = look.words(SIZE);
        fitted(painter, at, Align2::LEFT_CENTER, width(column, right), text, font, colour);
    }
}

fn spoken(listed: &Listed, what: &str) -> String {
    let lacks = if listed.incomplete { ", sound is missing" } else { "" };
    let what = if what.is_empty() { String::new() } else { format!(": {what}") };
    format!(
        "Entry {} from {}, {}{what}{lacks}",
        listed.number,
        moment(listed.start_s),
        listed.opened_by.word()
    )
}

fn moment(seconds: f64) -> String {
    words::moment(seconds.floor(), 0)
}

/// The foot: earlier and later entries, no more picks, and going to the latest of them, which is what this
/// returns.
fn turn(
    ui: &mut Ui,
    look: &Look,
    place: Rect,
    page: usize,
    earliest: usize,
    state: &mut ViewState,
) -> bool {
    let width = (place.width() - look.units(1.2)) / 4.0;
    let mut left = place.left();
    let mut press = |text: &str, enabled: bool| {
        let at = Rect::from_min_size(pos2(left, place.top()), vec2(width, place.height()));
        left += width + look.units(0.4);
        let button = Button::new(RichText::new(text).font(look.words(SIZE)))
            .stroke(Stroke::new(look.hairline(), look.palette.axis));
        let mut cell = ui.new_child(egui::UiBuilder::new().max_rect(at).id_salt(text));
        if !enabled {
            cell.disable();
        }
        let response = cell.put(at, button);
        panel::focus_ring(&cell, look, &response);
        response.clicked()
    };
    if press("Earlier", state.later < earliest) {
        state.later = (state.later + page).min(earliest);
    }
    if press("Later", state.later > 0) {
        state.later = state.later.saturating_sub(page);
    }
    if press("Unpick", state.picked != [None; 2]) {
        state.picked = [None; 2];
    }
    press("Show", state.latest_pick().is_some())
}
