//! The sentence: the most important thing there is to say, large enough to be read from the chair, and
//! what to do about it.

use egui::accesskit::Role;
use egui::{Align2, Button, Popup, Rect, RichText, Sense, Ui, WidgetInfo, pos2, vec2};

use super::Said;
use crate::editor::look::Look;
use crate::editor::marks::{self, fitting, severity_colour};
use crate::editor::panel;

/// Sizes that the sentence may take, in units: the largest in which it has two lines at most.
const SIZES_UNITS: [f32; 6] = [1.85, 1.7, 1.55, 1.4, 1.2, 1.0];
/// Size of what to do, in units.
const ACTION_UNITS: f32 = 1.2;
/// Width of the column of severities, in units.
const GUTTER_UNITS: f32 = 5.2;
/// Width of the control for the rest, in units.
const MORE_UNITS: f32 = 5.6;

/// Draws the most important of what is said, and the way to the rest. There is at least one.
pub(in crate::editor) fn show(ui: &mut Ui, look: &Look, rect: Rect, said: &[Said]) {
    let Some((first, further)) = said.split_first() else {
        return;
    };
    let palette = look.palette;
    let colour = severity_colour(palette, first.severity);
    ui.painter().rect_filled(rect, look.units(0.3), palette.panel);
    let stripe = Rect::from_min_size(rect.min, vec2(look.units(0.45), rect.height()));
    ui.painter().rect_filled(stripe, look.units(0.2), colour);
    let inner = rect.shrink2(vec2(look.units(0.9), look.units(0.4)));
    let gutter = Rect::from_min_max(
        inner.min,
        pos2(inner.left() + look.units(GUTTER_UNITS), inner.bottom()),
    );
    sign(ui, look, gutter, first);
    let right =
        if further.is_empty() { inner.right() } else { inner.right() - look.units(MORE_UNITS) };
    let words = Rect::from_min_max(
        pos2(gutter.right() + look.units(0.4), inner.top()),
        pos2(right - look.units(0.4), inner.bottom()),
    );
    self::words(ui, look, words, first);
    if !further.is_empty() {
        let size = vec2(look.units(MORE_UNITS), look.units(1.9));
        let place = Rect::from_min_size(pos2(right, inner.center().y - size.y / 2.0), size);
        more(ui, look, place, further.len(), said);
    }
}

/// The sentence, and what to do under it where there is space.
fn words(ui: &Ui, look: &Look, place: Rect, said: &Said) {
    let painter = ui.painter();
    let gap = look.units(0.25);
    let action = |size: f32| {
        let text = said.action.clone()?;
        Some(painter.layout(text, look.words(size), look.palette.quiet, place.width()))
    };
    // Two lines of the sentence, in the largest size in which they fit; what to do is no larger.
    let sizes = SIZES_UNITS.into_iter().find_map(|size| {
        let font = look.words(size);
        let galley = painter.layout(said.sentence.clone(), font, look.palette.text, place.width());
        let action = action(size.min(ACTION_UNITS));
        let under = action.as_ref().map_or(0.0, |action| gap + action.size().y);
        let fits = galley.rows.len() <= 2 && galley.size().y + under <= place.height();
        fits.then_some((galley, action))
    });
    let (galley, action) = sizes.unwrap_or_else(|| {
        (fitting(painter, look, &SIZES_UNITS, place.size(), &said.sentence), None)
    });
    let under = action.as_ref().map_or(0.0, |action| gap + action.size().y);
    let top = place.center().y - (galley.size().y + under) / 2.0;
    let bottom = top + galley.size().y;
    painter.galley(pos2(place.left(), top), galley, look.palette.text);
    if let Some(action) = action {
        painter.galley(pos2(place.left(), bottom + gap), action, look.palette.quiet);
    }
    let spoken = spoken(said);
    let response = ui.interact(place, ui.scope_id().with("sentence"), Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &spoken));
    panel::focus_ring(ui, look, &response);
    // Whoever works by keys begins here.
    if response.clicked() {
        response.request_focus();
    }
}

fn spoken(said: &Said) -> String {
    let action = said.action.as_deref().map_or(String::new(), |action| format!(" {action}"));
    format!("{}: {}{action}", said.word, said.sentence)
}

/// Sign and word of the severity: one above the other, or where there is no space for that, the sign.
fn sign(ui: &Ui, look: &Look, gutter: Rect, said: &Said) {
    let colour = severity_colour(look.palette, said.severity);
    let large = gutter.height() >= look.units(4.6);
    let size = look.units(if large { 2.5 } else { 1.7 }).min(gutter.height() * 0.6);
    let middle = if large { gutter.center().y - look.units(0.8) } else { gutter.center().y };
    let at = if large {
        pos2(gutter.center().x, middle)
    } else {
        pos2(gutter.left() + look.units(1.0), middle)
    };
    let place = Rect::from_center_size(at, vec2(size, size));
    marks::severity(ui.painter(), look, place, said.severity);
    let sizes = [1.05, 1.0];
    let room = gutter.width() - if large { 0.0 } else { look.units(2.2) };
    let fits = |size: &&f32| {
        let font = look.words(**size);
        let galley = ui.painter().layout_no_wrap(said.word.to_owned(), font, colour);
        galley.size().x <= room
    };
    let Some(size) = sizes.iter().find(fits) else { return };
    let (at, anchor) = if large {
        (pos2(at.x, place.bottom() + look.units(0.85)), Align2::CENTER_CENTER)
    } else {
        (pos2(place.right() + look.units(0.3), middle), Align2::LEFT_CENTER)
    };
    ui.painter().text(at, anchor, said.word, look.words(*size), colour);
}

/// The control that opens the list of everything that is said.
fn more(ui: &mut Ui, look: &Look, place: Rect, left_out: usize, all: &[Said]) {
    let text = RichText::new(format!("{left_out} more")).font(look.words(1.0));
    let response = ui.put(place, Button::new(text).min_size(place.size()));
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, "All findings"));
    panel::focus_ring(ui, look, &response);
    Popup::from_toggle_button_response(&response).width(look.units(46.0)).show(|ui| {
        all.iter().enumerate().for_each(|(index, said)| entry(ui, look, index, said));
    });
}

/// A finding in the list of all.
fn entry(ui: &mut Ui, look: &Look, index: usize, said: &Said) {
    let text = match &said.action {
        Some(action) => format!("{}\n{action}", said.sentence),
        None => said.sentence.clone(),
    };
    let width = look.units(42.0);
    let galley = ui.painter().layout(text, look.words(1.04), look.palette.text, width);
    let size = vec2(look.units(45.0), galley.size().y + look.units(0.6));
    let rect = ui.allocate_space(size).1;
    let sign = Rect::from_min_size(
        rect.min + vec2(look.units(0.4), 0.0),
        vec2(1.0, 1.0) * look.units(1.3),
    );
    marks::severity(ui.painter(), look, sign, said.severity);
    ui.painter().galley(rect.min + vec2(look.units(2.4), 0.0), galley, look.palette.text);
    let spoken = spoken(said);
    panel::describe(ui, rect, &format!("finding {index}"), || spoken.clone());
}
