//! What opens from the head: what is aimed at, what is listened to, and what is seldom needed.

use egui::accesskit::Role;
use egui::{Button, Popup, RichText, Stroke, Ui, WidgetInfo, vec2};
use ledgerline_measure::settings::PRESETS;
use ledgerline_measure::words;

use super::super::{ScreenResponse, ScreenState};
use super::control;
use crate::choices::{Aim, Choices, Listen};
use crate::editor::look::Look;
use crate::editor::panel;
use crate::params::window::{Drawer, Theme};

/// What is said before anything else plays than the input.
const CAUTION: &str = "Listening replaces the output. Turn the monitors down first.";

/// Target and ceiling: those of published documents, or none.
pub(super) fn aim(ui: &mut Ui, look: &Look, choices: &mut Choices, wide: bool) {
    let ceiling = format!("{} dBTP", words::signed(choices.ceiling_db, 1));
    let target = match choices.target_kind.kind() {
        Some(kind) => format!("{} {}", words::signed(choices.target_value, 1), kind.unit()),
        None => "no target".to_owned(),
    };
    let text = if wide { format!("{target}, {ceiling}…") } else { format!("{target}…") };
    let tip = "The level aimed at, and the ceiling";
    let button = control(ui, look, &text, false, "Target and ceiling", tip);
    Popup::from_toggle_button_response(&button).width(look.units(30.0)).show(|ui| {
        let none = choices.target_kind == Aim::None;
        if item(ui, look, "No target", none, "Target: none") {
            choices.target_kind = Aim::None;
        }
        for preset in PRESETS {
            let kind = Aim::of(preset.target.kind);
            let on = choices.target_kind == kind
                && choices.target_value == preset.target.value
                && choices.ceiling_db == preset.ceiling_db;
            let text = format!(
                "{} {}, {} dBTP   {}",
                words::signed(preset.target.value, 0),
                preset.target.kind.unit(),
                words::signed(preset.ceiling_db, 0),
                preset.source
            );
            if item(ui, look, &text, on, &format!("Target: {}", preset.word)) {
                choices.target_kind = kind;
                choices.target_value = preset.target.value;
                choices.ceiling_db = preset.ceiling_db;
            }
        }
        note(ui, look, "Any other: in the settings.");
    });
}

/// What the output carries.
pub(super) fn listen(ui: &mut Ui, look: &Look, choices: &mut Choices) {
    let on = choices.listen != Listen::Off;
    let text = "Listen…";
    let button =
        control(ui, look, text, on, "Listen", "Hear the audible band, what is hidden, or damage");
    Popup::from_toggle_button_response(&button).width(look.units(26.0)).show(|ui| {
        note(ui, look, CAUTION);
        for listen in [Listen::Off, Listen::Audible, Listen::Hidden, Listen::Damage] {
            let text = match listen {
                Listen::Off => "The input, unchanged",
                Listen::Audible => "The audible band only",
                Listen::Hidden => "What is hidden above, shifted down",
                Listen::Damage => "The damage of clipping, alone",
            };
            let label = format!("Listen: {}", listen.short());
            if item(ui, look, text, choices.listen == listen, &label) {
                choices.listen = listen;
            }
        }
    });
}

/// Colours, settings and reset.
pub(super) fn more(ui: &mut Ui, look: &Look, asked: &mut ScreenResponse, state: &mut ScreenState) {
    let button = control(ui, look, "More", false, "More", "Colours, settings, reset");
    Popup::from_toggle_button_response(&button).width(look.units(18.0)).show(|ui| {
        for theme in Theme::ALL {
            let text = format!("Colours: {}", theme.word());
            if item(ui, look, &text, state.theme == theme, &text) {
                state.theme = theme;
            }
        }
        if item(ui, look, "Settings", false, "Open the settings") {
            state.drawer = Some(Drawer::Settings);
        }
        ui.separator();
        if item(ui, look, "Reset all readings", false, "Reset") {
            asked.reset = true;
            // What stands still would hide that the readings are gone.
            (state.frozen, state.past) = (None, None);
        }
    });
    if let Some(left_s) = state.undo_s {
        let text = format!("Undo reset ({} s)", words::fixed(left_s.ceil(), 0));
        let tip = "As if it had never been pressed";
        asked.undo_reset = control(ui, look, &text, true, "Undo reset", tip).clicked();
    }
}

/// Something to choose in a menu. Says whether it was.
fn item(ui: &mut Ui, look: &Look, text: &str, on: bool, label: &str) -> bool {
    let edge = if on { look.palette.text } else { look.palette.panel };
    let button = Button::new(RichText::new(text).font(look.words(1.0)))
        .selected(on)
        .stroke(Stroke::new(look.hairline(), edge))
        .min_size(vec2(ui.available_width(), look.units(1.8)));
    let response = ui.add(button);
    response.widget_info(|| WidgetInfo::selected(Role::MenuItemRadio, true, on, label));
    panel::focus_ring(ui, look, &response);
    response.clicked()
}

fn note(ui: &mut Ui, look: &Look, text: &str) {
    ui.label(RichText::new(text).font(look.words(1.0)).color(look.palette.quiet));
}
