//! Calibrating: the offset follows from what the meter shows now.

use egui::{Frame, Key, Margin, Stroke, TextEdit, Ui, WidgetInfo, vec2};
use ledgerline_measure::YourMeterReading;

use crate::choices::{Choices, METER_OFFSET_RANGE_DB};
use crate::editor::look::Look;
use crate::editor::settings_panel::{press, row};
use crate::typed;

/// Most characters that the field takes.
const MOST_CHARACTERS: usize = 12;

/// Draws the field, and sets the offset when a number has been typed.
pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    read: &YourMeterReading,
    choices: &mut Choices,
    text: &mut String,
) {
    let entered = row(ui, look, "It shows now", |ui| {
        let focused = ui.memory(|memory| memory.has_focus(id()));
        let (width, colour) = match focused {
            true => (look.units(0.16).max(1.5), look.palette.text),
            false => (look.hairline(), look.palette.axis),
        };
        let frame = Frame::new()
            .fill(look.palette.raised)
            .stroke(Stroke::new(width, colour))
            .corner_radius(look.units(0.2))
            .inner_margin(Margin::symmetric(look.units(0.35).min(100.0) as i8, 0));
        let size = vec2(look.units(5.0), look.units(1.6));
        let before = text.clone();
        let edit = TextEdit::singleline(text)
            .id(id())
            .font(look.digits(1.0))
            .text_color(look.palette.text)
            .frame(frame)
            .min_size(size)
            .desired_width(size.x)
            .char_limit(MOST_CHARACTERS);
        let response = ui.add(edit);
        response.widget_info(|| {
            let mut info = WidgetInfo::text_edit(true, &before, text.as_str(), "");
            info.label = Some("What your meter shows now, on its own scale".to_owned());
            info
        });
        let entered = response.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
        press(ui, look, "Calibrate") || entered
    });
    let own = read.shows_db.finite().map(|shows| shows - read.meter.offset_db);
    if entered && let (Some(typed), Some(own)) = (typed::decibels(text), own) {
        let (least, most) = METER_OFFSET_RANGE_DB;
        // To a tenth, as the parameter has it.
        choices.meter_offset_db =
            ((typed - own) * 10.0).round().clamp(least * 10.0, most * 10.0) / 10.0;
        text.clear();
    }
}

fn id() -> egui::Id {
    egui::Id::unique("what your meter shows now")
}
