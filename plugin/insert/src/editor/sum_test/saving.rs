//! Saving a test: the button, what keeps it from being pressed, and where the files are.

use egui::{Align, Button, Label, Layout, Rect, RichText, Stroke, Ui, UiBuilder, pos2, vec2};
use ledgerline_measure::verdict::Severity;

use crate::editor::look::Look;
use crate::editor::{marks, panel};
use crate::sum_test::desk::{Saving, SavingDone};
use crate::sum_test::entries::Entries;
use crate::sum_test::record::SumTestRecord;

/// Height of it all, in units.
pub const HEIGHT_UNITS: f32 = 4.5;
/// Height of a button, in units.
const BUTTON_UNITS: f32 = 1.8;
/// Sizes that the message may take, in units.
const SIZES: [f32; 3] = [0.92, 0.84, 0.76];

/// Draws it and returns whether the test is to be saved.
pub fn show(
    ui: &mut Ui,
    look: &Look,
    rect: Rect,
    record: Option<&SumTestRecord>,
    saving: &Saving,
    entries: &Entries,
) -> bool {
    let possible = possible(record);
    let done = match saving {
        // What an earlier run left behind is no message about this one.
        Saving::Done(done) if record.is_some_and(|r| r.run == done.run) => Some(&**done),
        _ => None,
    };
    let busy = matches!(saving, Saving::Busy);
    let row = Rect::from_min_size(rect.min, vec2(rect.width(), look.units(BUTTON_UNITS)));
    let layout = Layout::left_to_right(Align::Center);
    let mut buttons =
        ui.new_child(UiBuilder::new().max_rect(row).layout(layout).id_salt("save test"));
    let enabled = possible.is_ok() && !busy;
    let pressed = press(&mut buttons, look, "Save record and report", enabled);
    if let Some(saved) = done.and_then(|done| done.result.as_ref().ok())
        && press(&mut buttons, look, "Copy path", true)
    {
        ui.ctx().copy_text(saved.record.display().to_string());
    }
    let top = row.bottom() + look.units(0.3);
    let place = Rect::from_min_max(pos2(rect.left(), top), rect.max);
    match (done, possible) {
        _ if busy => message(ui, look, place, "Saving …", false),
        (Some(done), _) => message(ui, look, place, &outcome(done, entries), done.result.is_err()),
        (None, Err(reason)) => message(ui, look, place, reason, false),
        (None, Ok(())) => message(
            ui,
            look,
            place,
            "Writes a record (JSON) and a report for any browser into the log's folder, both with \
             the kind of meter if the readings tell it.",
            false,
        ),
    }
    pressed
}

/// Whether there is something to save, or why not.
fn possible(record: Option<&SumTestRecord>) -> Result<(), &'static str> {
    let Some(record) = record.filter(|record| record.verdict.is_some()) else {
        return Err("A test can be saved once it has played to its end.");
    };
    // Without an audit nothing is known of how the bus lies against the test.
    if record.alignment.is_none() {
        return Err("There is nothing to save: what was heard could not be judged as a test.");
    }
    Ok(())
}

fn outcome(done: &SavingDone, entries: &Entries) -> String {
    match &done.result {
        Ok(saved) => {
            let since = if done.entries == *entries {
                ""
            } else {
                " What was typed in since then is not in it."
            };
            format!(
                "Saved: {}, and beside it the report, with the ending html.{since}",
                saved.record.display()
            )
        }
        Err(error) => error.to_string(),
    }
}

/// Draws a message whose text can be selected, with a sign where it is about something that failed.
fn message(ui: &mut Ui, look: &Look, rect: Rect, words: &str, failed: bool) {
    let mut place = rect;
    if failed {
        let sign = Rect::from_min_size(rect.min, vec2(1.0, 1.0) * look.units(1.1));
        marks::severity(ui.painter(), look, sign, Severity::Caution);
        place.min.x += look.units(1.7);
    }
    let size = marks::fitting_size(ui.painter(), look, &SIZES, place.size(), words);
    let mut inside = ui.new_child(UiBuilder::new().max_rect(place).id_salt("saved"));
    let text = RichText::new(words).font(look.words(size)).color(look.palette.text);
    inside.add(Label::new(text).selectable(true).wrap());
}

fn press(ui: &mut Ui, look: &Look, text: &str, enabled: bool) -> bool {
    let button = Button::new(RichText::new(text).font(look.words(0.94)))
        .stroke(Stroke::new(look.hairline(), look.palette.axis))
        .min_size(vec2(0.0, look.units(BUTTON_UNITS)));
    let response = ui.add_enabled(enabled, button);
    panel::focus_ring(ui, look, &response);
    response.clicked()
}
