//! What loading a state has switched off, with a button to go on and one to leave it.

use egui::{Align2, Button, Layout, Rect, RichText, Stroke, StrokeKind, Ui, UiBuilder, pos2, vec2};

use super::look::Look;
use super::marks::fitted;
use super::panel;
use crate::choices::Choices;
use crate::params::switched_off::SwitchedOff;

/// Height of the strip, in units.
const HEIGHT_UNITS: f32 = 2.4;

/// Draws the strip at the foot of `rect` where there is something to answer, and returns what is
/// left above it.
pub fn show(
    ui: &mut Ui,
    look: &Look,
    rect: Rect,
    choices: &mut Choices,
    switched_off: &mut Option<SwitchedOff>,
) -> Rect {
    let Some(off) = *switched_off else { return rect };
    let top = rect.bottom() - look.units(HEIGHT_UNITS);
    let strip = Rect::from_min_max(pos2(rect.left(), top), rect.max);
    let stroke = Stroke::new(look.hairline(), look.palette.caution);
    ui.painter().rect(strip, look.units(0.25), look.palette.panel, stroke, StrokeKind::Inside);

    let layout = Layout::right_to_left(egui::Align::Center);
    let inside = strip.shrink2(vec2(look.units(0.4), look.units(0.2)));
    let mut row = ui.new_child(UiBuilder::new().max_rect(inside).layout(layout).id_salt("off"));
    let mut press = |text: &str| {
        let button = Button::new(RichText::new(text).font(look.words(0.94)))
            .stroke(Stroke::new(look.hairline(), look.palette.axis))
            .min_size(vec2(look.units(4.6), look.units(1.8)));
        let response = row.add(button);
        panel::focus_ring(&row, look, &response);
        response.clicked()
    };
    let leave = press("Leave off");
    let go_on = press("Switch on again");
    let buttons = row.min_rect().left();

    let sentence = off.sentence();
    let left = pos2(inside.left(), strip.center().y);
    let width = buttons - look.units(0.6) - left.x;
    let words = look.words(1.0);
    fitted(ui.painter(), left, Align2::LEFT_CENTER, width, &sentence, words, look.palette.text);
    let place = Rect::from_x_y_ranges(inside.left()..=buttons, strip.y_range());
    panel::describe(ui, place, "switched off", || sentence.clone());
    if go_on {
        off.go_on(choices);
    }
    if go_on || leave {
        *switched_off = None;
    }
    Rect::from_min_max(rect.min, pos2(rect.right(), top - look.units(0.3)))
}
