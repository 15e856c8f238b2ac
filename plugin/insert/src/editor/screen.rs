//! The screen: a pure function from plain data to a picture. The answer and its numbers first, then time,
//! the account and what changed, then what is drawn out on demand. It computes no level and knows no host.

mod compact;
mod drawers;
mod full;
mod head;
mod places;
mod said;
mod state;
mod tabs;

use egui::{Ui, Vec2, vec2};

pub use super::glance::{Given, Past};
use super::look::Look;
use super::style;
use crate::choices::Choices;
use crate::params::window::{FIRST_POINTS, LEAST_POINTS};
use places::Places;
pub use state::ScreenState;

/// The smallest window, in points.
pub const LEAST_SIZE: Vec2 = vec2(LEAST_POINTS.0, LEAST_POINTS.1);
/// The size of a window that nobody has resized yet, in points.
pub const FIRST_SIZE: Vec2 = vec2(FIRST_POINTS.0, FIRST_POINTS.1);

/// What the user asked for that is neither a choice nor the screen's own business.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct ScreenResponse {
    /// Clear every reading.
    pub reset: bool,
    /// Take back the reset before.
    pub undo_reset: bool,
    /// Begin another entry.
    pub mark: bool,
    /// Save the record and the report of the sum test.
    pub save_sum_test: bool,
}

/// Draws the screen over the whole of `ui`.
pub fn show(
    ui: &mut Ui,
    given: Given,
    choices: &mut Choices,
    state: &mut ScreenState,
) -> ScreenResponse {
    let window = ui.max_rect();
    let look = Look::new(window.size(), state.theme);
    if state.styled != Some(look) {
        style::apply(ui.ctx(), &look);
        ui.reset_style();
        state.styled = Some(look);
    }
    ui.painter().rect_filled(window, 0.0, look.palette.ground);
    state.follow_sum_test(choices.sum_test);
    let seconds = ui.input(|input| input.time);
    let glance = state.glance(given, choices, seconds);
    match Places::new(&look, window, state.drawer) {
        Places::Compact(places) => compact::show(ui, &look, &places, &glance, choices, state),
        Places::Full(places) => {
            let asked = head::show(ui, &look, places.head, &glance, choices, state);
            let save_sum_test = full::show(ui, &look, &places, &glance, choices, state);
            tabs::show(ui, &look, places.tabs, state);
            ScreenResponse { save_sum_test, ..asked }
        }
    }
}
