//! The parts of a screen that has space for more than the least.

use egui::Ui;

use super::drawers;
use super::places::FullPlaces;
use super::said::said;
use super::state::ScreenState;
use crate::choices::Choices;
use crate::editor::answer;
use crate::editor::glance::Glance;
use crate::editor::look::Look;
use crate::editor::{account, entries, switched_off, time};

/// Draws them, and changes what the user changes. Returns whether the sum test is to be saved.
pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    places: &FullPlaces,
    glance: &Glance,
    choices: &mut Choices,
    state: &mut ScreenState,
) -> bool {
    state.entries_view.yours = choices.your_meter().map(|meter| meter.kind);
    let said = said(glance, choices, state);
    let rest = switched_off::show(ui, look, places.answer, choices, &mut state.switched_off);
    answer::show_sentence(ui, look, rest, &said);
    if let Some(place) = places.numbers {
        let (seen, past) = (&mut state.overs_seen, &mut state.past);
        answer::show_numbers(ui, look, place, glance, seen, past);
    }
    if let Some(place) = places.account {
        account::show(ui, look, place, &glance.shown.reading, choices);
    }
    if let Some(place) = places.time {
        let change = entries::shown(&glance.entries, &state.entries_view);
        let compared = change.map(|change| [change.change.against, change.to]);
        let (view, past) = (&mut state.time, &mut state.past);
        time::show(ui, look, place, glance, compared, view, past);
    }
    if let Some(place) = places.change {
        entries::show_row(ui, look, place, &glance.entries, &state.entries_view);
    }
    let drawer = places.drawer;
    drawer.is_some_and(|drawer| drawers::show(ui, look, drawer, glance, choices, state))
}
