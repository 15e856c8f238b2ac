//! A panel: a titled area of the screen, and the label by which a screen reader finds what is
//! painted in it.

use egui::accesskit::Role;
use egui::{Align2, Rect, Response, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2};

use super::look::Look;
use super::marks::fitted;

/// Height of a panel's title, in units.
const TITLE_UNITS: f32 = 1.75;
/// Space around a panel's content, in units.
const PADDING_UNITS: f32 = 0.65;

/// Where the content of a panel lies.
#[must_use]
pub fn content(look: &Look, rect: Rect) -> Rect {
    let padding = look.units(PADDING_UNITS);
    let inner = rect.shrink2(vec2(padding, padding * 0.6));
    Rect::from_min_max(pos2(inner.left(), inner.top() + look.units(TITLE_UNITS)), inner.max)
}

/// Draws the panel and its title (with a remark at the right), and returns the rectangle for its
/// content.
pub fn show(ui: &Ui, look: &Look, rect: Rect, title: &str, remark: &str) -> Rect {
    let (painter, palette) = (ui.painter(), look.palette);
    painter.rect_filled(rect, look.units(0.3), palette.panel);
    let padding = look.units(PADDING_UNITS);
    let inner = rect.shrink2(vec2(padding, padding * 0.6));
    let middle = inner.top() + look.units(TITLE_UNITS) * 0.5;
    let title = painter.text(
        pos2(inner.left(), middle),
        Align2::LEFT_CENTER,
        title,
        look.words(1.1),
        palette.text,
    );
    if !remark.is_empty() {
        let width = inner.right() - title.right() - look.units(1.0);
        let at = pos2(inner.right(), middle);
        fitted(painter, at, Align2::RIGHT_CENTER, width, remark, look.words(0.84), palette.quiet);
    }
    content(look, rect)
}

/// Gives what is painted in `rect` a label in words. `salt` tells it from its neighbours.
pub fn describe(ui: &Ui, rect: Rect, salt: &str, words: impl Fn() -> String) -> Response {
    let response = ui.interact(rect, ui.scope_id().with(salt), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, words()));
    response
}

/// Shows that a control has the keyboard: a ring around it, whatever its own edge says.
pub fn focus_ring(ui: &Ui, look: &Look, response: &Response) {
    if response.has_focus() {
        let stroke = Stroke::new(look.units(0.14).max(1.5), look.palette.text);
        let rect = response.rect.expand(look.units(0.12));
        ui.painter().rect_stroke(rect, look.units(0.3), stroke, StrokeKind::Outside);
    }
}

/// A sentence in the middle of a panel that has nothing else to show.
pub fn empty(ui: &Ui, look: &Look, rect: Rect, sentence: &str) {
    let font = look.words(1.0);
    let width = rect.width() - look.units(2.0);
    let galley = ui.painter().layout(sentence.to_owned(), font, look.palette.quiet, width);
    let place = Align2::CENTER_CENTER.align_size_within_rect(galley.size(), rect);
    ui.painter().galley(place.min, galley, look.palette.quiet);
}
