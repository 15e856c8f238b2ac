//! What the tabs at the foot draw out.

use egui::{Rect, Ui};

use super::state::ScreenState;
use crate::choices::Choices;
use crate::editor::glance::Glance;
use crate::editor::look::Look;
use crate::editor::{entries, halves, ledger, settings_panel, spectrum_view, sum_test, your_meter};
use crate::params::window::Drawer;

/// Draws what is drawn out, and changes what the user changes. Returns whether the sum test is to be
/// saved.
pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    (drawer, rect): (Drawer, Rect),
    glance: &Glance,
    choices: &mut Choices,
    state: &mut ScreenState,
) -> bool {
    let reading = &glance.shown.reading;
    match drawer {
        Drawer::Ledger => ledger::show(ui, look, rect, reading, choices.rms_reference),
        Drawer::Halves => halves::show(ui, look, rect, reading),
        Drawer::Spectrum => {
            let (spectrum, edges) = (&glance.shown.spectrum, choices.edges());
            spectrum_view::show(ui, look, rect, reading, spectrum, edges);
        }
        Drawer::Entries => {
            let (view, past) = (&mut state.entries_view, &mut state.past);
            entries::show(ui, look, rect, glance, view, past);
        }
        Drawer::YourMeter => {
            let named = your_meter::Named {
                by_entries: state.entries_view.beside.suggested(),
                by_test: state.sum_test.identified.as_deref(),
            };
            let typed = &mut state.your_meter_typed;
            your_meter::show(ui, look, rect, glance, choices, &named, typed);
        }
        Drawer::SumTest => {
            let (told, view) = (&state.sum_test, &mut state.sum_test_view);
            return sum_test::show(ui, look, rect, told, choices, view);
        }
        Drawer::Settings => settings_panel::show(ui, look, rect, choices, &mut state.dragged),
    }
    false
}
