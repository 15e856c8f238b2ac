//! Calibrating: the offset follows from what the meter shows now.

use egui::{Id, Key, Sense, Ui, vec2};
use ledgerline_measure::YourMeterReading;

use super::within_range;
use crate::choices::Choices;
use crate::editor::look::Look;
use crate::editor::settings_panel::{press, row};
use crate::editor::typed_field::{self, Field};
use crate::typed;

/// Draws the field, and sets the offset when a number has been typed.
pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    read: &YourMeterReading,
    choices: &mut Choices,
    text: &mut String,
) {
    let entered = row(ui, look, "It shows now", |ui| {
        let size = vec2(look.units(6.3), look.units(1.6));
        let (place, _) = ui.allocate_exact_size(size, Sense::hover());
        let field = Field {
            id: Id::unique("what your meter shows now"),
            label: "What your meter shows now",
            hover: "What your meter shows now, on its own scale",
            bad: !text.trim().is_empty() && typed::decibels(text).is_none(),
        };
        let response = typed_field::show(ui, look, place, &field, text);
        let entered = response.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
        press(ui, look, "Calibrate") || entered
    });
    let own = read.shows_db.finite().map(|shows| shows - read.meter.offset_db);
    if entered && let (Some(typed), Some(own)) = (typed::decibels(text), own) {
        choices.meter_offset_db = within_range(typed - own);
        text.clear();
    }
}
