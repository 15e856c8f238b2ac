//! The tabs at the foot: each draws something out, one at a time, or none; and the name of what has the
//! keyboard.

use egui::accesskit::Role;
use egui::{Align2, Button, Layout, Rect, RichText, Stroke, Ui, UiBuilder, WidgetInfo, pos2, vec2};

use super::state::ScreenState;
use crate::editor::look::Look;
use crate::editor::marks::fitted;
use crate::editor::{panel, time};
use crate::params::window::Drawer;

/// Draws the tabs.
pub(super) fn show(ui: &mut Ui, look: &Look, rect: Rect, state: &mut ScreenState) {
    let layout = Layout::left_to_right(egui::Align::Center);
    let mut row = ui.new_child(UiBuilder::new().max_rect(rect).layout(layout).id_salt("tabs"));
    for drawer in Drawer::ALL {
        let on = state.drawer == Some(drawer);
        let button = Button::new(RichText::new(drawer.word()).font(look.words(1.05)))
            .selected(on)
            .stroke(Stroke::new(look.hairline(), look.palette.axis))
            .min_size(vec2(look.units(5.4), look.units(1.9)));
        let response = row.add(button);
        response.widget_info(|| WidgetInfo::selected(Role::Tab, true, on, drawer.word()));
        panel::focus_ring(&row, look, &response);
        if response.on_hover_text("Open or close").clicked() {
            state.toggle(drawer);
        }
    }
    time::sign_of_past(ui, look, rect, &mut state.past);
    let left = row.min_rect().right() + look.units(1.0);
    if state.past.is_none()
        && let Some(name) = state.focused(ui.ctx())
    {
        let (at, width) = (pos2(rect.right(), rect.center().y), rect.right() - left);
        let (font, colour) = (look.words(1.0), look.palette.quiet);
        fitted(ui.painter(), at, Align2::RIGHT_CENTER, width, name, font, colour);
    }
}
