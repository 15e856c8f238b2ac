//! What is measured, below the sentence: the ledger, the room, the spectrum, and the halves or the
//! settings.

use egui::Ui;

use super::places::Places;
use crate::choices::Choices;
use crate::editor::look::Look;
use crate::editor::{halves, ledger, room_strip, settings_panel, spectrum_view};
use crate::handover::Snapshot;

/// Draws it.
pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    places: &Places,
    shown: &Snapshot,
    choices: &mut Choices,
    (settings_open, dragged): (bool, &mut settings_panel::Dragged),
) {
    let reading = &shown.reading;
    ledger::show(ui, look, places.ledger, reading, choices.rms_reference);
    room_strip::show(ui, look, places.room, reading);
    let edges = choices.edges();
    spectrum_view::show(ui, look, places.spectrum, reading, &shown.spectrum, edges);
    if settings_open {
        settings_panel::show(ui, look, places.side, choices, dragged);
    } else {
        halves::show(ui, look, places.side, reading);
    }
}
