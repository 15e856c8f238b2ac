//! What is measured, below the sentence: the ledger with the halves or the settings beside it, and under
//! them the room and the spectrum, or the entries.

use egui::Ui;

use super::places::Places;
use super::state::ScreenState;
use crate::choices::Choices;
use crate::editor::look::Look;
use crate::editor::{entries, halves, ledger, room_strip, settings_panel, spectrum_view};
use crate::handover::Snapshot;

/// Draws it.
pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    places: &Places,
    shown: &Snapshot,
    choices: &mut Choices,
    state: &mut ScreenState,
) {
    let reading = &shown.reading;
    ledger::show(ui, look, places.ledger, reading, choices.rms_reference);
    if state.entries_view.open {
        entries::show(ui, look, places.foot, &state.entries, &mut state.entries_view);
    } else {
        room_strip::show(ui, look, places.room, reading);
        let edges = choices.edges();
        spectrum_view::show(ui, look, places.spectrum, reading, &shown.spectrum, edges);
    }
    if state.settings_open {
        settings_panel::show(ui, look, places.side, choices, &mut state.dragged);
    } else {
        halves::show(ui, look, places.side, reading);
    }
}
