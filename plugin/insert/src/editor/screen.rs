//! The screen: a pure function from plain data to a picture. First the sentence, then the ledger
//! that backs it, the halves, the room and the spectrum. It computes no level and knows no host.

mod measures;
mod places;
mod state;

use egui::{Rect, Ui, Vec2, vec2};

use super::header::{self, Switched};
use super::look::Look;
use super::{sentence, style, sum_test, switched_off};
use crate::choices::Choices;
use crate::handover::Snapshot;
use crate::params::window::{FIRST_POINTS, LEAST_POINTS};
use places::{MARGIN_UNITS, Places};
pub use state::ScreenState;

/// The smallest window in which all text can still be read, in points.
pub const LEAST_SIZE: Vec2 = vec2(LEAST_POINTS.0, LEAST_POINTS.1);
/// The size of a window that nobody has resized yet, in points.
pub const FIRST_SIZE: Vec2 = vec2(FIRST_POINTS.0, FIRST_POINTS.1);

/// What the user asked for that is neither a choice nor the screen's own business.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct ScreenResponse {
    /// Clear every reading.
    pub reset: bool,
    /// Begin another entry.
    pub mark: bool,
    /// Save the record and the report of the sum test.
    pub save_sum_test: bool,
}

/// Draws the screen over the whole of `ui`.
pub fn show(
    ui: &mut Ui,
    snapshot: &Snapshot,
    choices: &mut Choices,
    state: &mut ScreenState,
) -> ScreenResponse {
    let window = ui.max_rect();
    let look = Look::new(window.size(), state.dark);
    if state.styled != Some(look) {
        style::apply(ui.ctx(), &look);
        ui.reset_style();
        state.styled = Some(look);
    }
    ui.painter().rect_filled(window, 0.0, look.palette.ground);
    state.sum_test_view.follow(choices.sum_test);
    let shown = *state.frozen.as_deref().unwrap_or(snapshot);
    let places = Places::new(&look, window, state.settings_open);
    let on = Switched {
        frozen: state.frozen.is_some(),
        entries: state.entries_view.open,
        settings: state.settings_open,
        sum_test: state.sum_test_view.open,
        dark: state.dark,
    };
    let reading = &shown.reading;
    let asked = header::show(ui, &look, places.header, &state.title, reading, choices, on);
    let rest = switched_off::show(ui, &look, places.sentence, choices, &mut state.switched_off);
    sentence::show(ui, &look, rest, &sentence::said(reading, &state.messages));
    if state.sum_test_view.open {
        let below =
            Rect::from_min_max(places.ledger.min, window.shrink(look.units(MARGIN_UNITS)).max);
        let (told, view) = (&state.sum_test, &mut state.sum_test_view);
        let save_sum_test = sum_test::show(ui, &look, below, told, choices, view);
        return ScreenResponse { save_sum_test, ..answer(asked, snapshot, state) };
    }
    measures::show(ui, &look, &places, &shown, choices, state);
    answer(asked, snapshot, state)
}

fn answer(asked: header::Asked, snapshot: &Snapshot, state: &mut ScreenState) -> ScreenResponse {
    if asked.settings {
        // One of them at a time.
        state.settings_open = !state.settings_open || state.sum_test_view.open;
        (state.sum_test_view.open, state.entries_view.open) = (false, false);
    }
    if asked.entries {
        state.entries_view.open = !state.entries_view.open || state.sum_test_view.open;
        (state.sum_test_view.open, state.settings_open) = (false, false);
    }
    state.sum_test_view.open ^= asked.sum_test;
    state.dark ^= asked.theme;
    if asked.freeze {
        state.frozen = if state.frozen.is_some() { None } else { Some(Box::new(*snapshot)) };
    }
    if asked.reset {
        // A frozen screen would hide that the readings are gone.
        state.frozen = None;
    }
    ScreenResponse { reset: asked.reset, mark: asked.mark, save_sum_test: false }
}
