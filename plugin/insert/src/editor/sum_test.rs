//! The sum test on the screen: what this instance does in it, and on the bus the table of steps
//! with the answer.

mod roles;
mod table;

use egui::{Rect, Ui, pos2};

use super::look::Look;
use super::panel;
use crate::choices::{Choices, SumTest};
use crate::sum_test::record::SumTestRecord;

/// Width of the roles, in units.
const ROLES_UNITS: f32 = 22.0;

/// What the view remembers from frame to frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct ViewState {
    /// Whether the view is open.
    pub open: bool,
    /// The feed that waits for the user's word.
    asked: Option<SumTest>,
    /// What the instance did when the view was last drawn.
    before: SumTest,
}

impl ViewState {
    /// Opens the view when the instance begins to take part, from wherever that was chosen.
    pub fn follow(&mut self, role: SumTest) {
        self.open |= self.before == SumTest::Off && role != SumTest::Off;
        self.before = role;
    }
}

/// Draws the view and changes what the user changes.
pub fn show(
    ui: &mut Ui,
    look: &Look,
    rect: Rect,
    record: Option<&SumTestRecord>,
    choices: &mut Choices,
    state: &mut ViewState,
) {
    let split = rect.left() + look.units(ROLES_UNITS);
    let gap = look.units(0.6);
    let left = Rect::from_min_max(rect.min, pos2(split, rect.bottom()));
    let right = Rect::from_min_max(pos2(split + gap, rect.top()), rect.max);
    roles::show(ui, look, left, choices, &mut state.asked);
    match record.filter(|_| choices.sum_test == SumTest::Bus) {
        Some(record) => table::show(ui, look, right, record),
        None => {
            let content = panel::show(ui, look, right, "Steps", "");
            panel::empty(ui, look, content, hint(choices.sum_test));
            panel::describe(ui, content, "hint", || hint(choices.sum_test).to_owned());
        }
    }
}

/// What to do, where there is no table.
fn hint(role: SumTest) -> &'static str {
    match role {
        SumTest::Off => {
            "Put one instance on each of two tracks, as feed 1 and feed 2, and one on the bus that \
             both are sent to at unity. The test plays from the beginning of the project."
        }
        SumTest::Feed1 | SumTest::Feed2 => {
            "This instance is a feed: its output follows the transport from the beginning of the \
             project and is silent while it stands. The instance on the bus has the table."
        }
        SumTest::Bus => {
            "Waiting for the test: start the transport at the beginning of the project."
        }
    }
}
