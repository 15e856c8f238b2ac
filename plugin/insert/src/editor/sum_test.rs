//! The sum test on the screen: what this instance does in it, and on the bus the table of steps
//! with the answer, what the mixer's own meter showed and which kind that is, and saving.

mod fields;
mod meter;
mod roles;
mod saving;
mod table;

use std::sync::Arc;

use egui::{Rect, Ui, pos2};

use super::look::Look;
use super::panel;
use crate::choices::{Choices, FeedsPlay, SumTest};
use crate::sum_test::desk::{Identified, Saving};
use crate::sum_test::entries::Entries;
use crate::sum_test::record::SumTestRecord;
use fields::Typed;

/// Width of the roles, in units.
const ROLES_UNITS: f32 = 22.0;
/// Height of the roles above the meter, in units.
const ROLES_HEIGHT_UNITS: f32 = 9.3;
/// Height that the table and what belongs to it need, in units.
const LEAST_HEIGHT_UNITS: f32 = 34.0;
/// Space between the parts, in units.
const GAP_UNITS: f32 = 0.6;

/// What the view is told by whoever knows.
#[derive(Debug, Clone, Default)]
pub struct Told {
    /// The table, where this instance hears the bus.
    pub record: Option<Arc<SumTestRecord>>,
    /// Whether a sample rate is known, of a test or of the bus.
    pub has_rate: bool,
    /// Which kind of meter the mixer has, going by the latest question that was answered.
    pub identified: Option<Arc<Identified>>,
    /// How far saving has come.
    pub saving: Saving,
}

/// What the view remembers from frame to frame.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ViewState {
    /// What was typed in, as numbers.
    pub entries: Entries,
    /// The feed that waits for the user's word.
    asked: Option<SumTest>,
    /// What was typed in, as it was typed.
    typed: Typed,
}

/// Draws the view and changes what the user changes. Returns whether the test is to be saved.
pub fn show(
    ui: &mut Ui,
    look: &Look,
    rect: Rect,
    told: &Told,
    choices: &mut Choices,
    state: &mut ViewState,
) -> bool {
    if rect.height() < look.units(LEAST_HEIGHT_UNITS) {
        return small(ui, look, rect, told, choices, state);
    }
    let split = rect.left() + look.units(ROLES_UNITS);
    let gap = look.units(GAP_UNITS);
    let left = Rect::from_min_max(rect.min, pos2(split, rect.bottom()));
    let right = Rect::from_min_max(pos2(split + gap, rect.top()), rect.max);
    if !choices.hears_test() || state.asked.is_some() {
        roles::show(ui, look, left, choices, &mut state.asked);
    } else {
        let bottom = left.top() + look.units(ROLES_HEIGHT_UNITS);
        let above = Rect::from_min_max(left.min, pos2(left.right(), bottom));
        let below = Rect::from_min_max(pos2(left.left(), bottom + gap), left.max);
        roles::show(ui, look, above, choices, &mut state.asked);
        state.typed.follow(&state.entries);
        let identified = told.identified.as_deref();
        meter::show(ui, look, below, identified, &mut state.entries, &mut state.typed);
    }
    if choices.hears_test() {
        return bus(ui, look, right, told, state);
    }
    let content = panel::show(ui, look, right, "Steps", "");
    panel::empty(ui, look, content, hint(choices));
    panel::describe(ui, content, "hint", || hint(choices).to_owned());
    false
}

/// What there is space for in little height: what this instance does, and how far the test has come.
fn small(
    ui: &mut Ui,
    look: &Look,
    rect: Rect,
    told: &Told,
    choices: &mut Choices,
    state: &mut ViewState,
) -> bool {
    let (left, right) = rect.split_left_right_at_fraction(0.45);
    let gap = look.units(GAP_UNITS);
    roles::show(ui, look, left.with_max_x(left.right() - gap), choices, &mut state.asked);
    let content = panel::show(ui, look, right, "Steps", "the table needs a higher window");
    let record = told.record.as_deref().filter(|_| choices.hears_test());
    table::answer(ui, look, content, record, hint(choices));
    false
}

/// The table, the answer under it, and saving at the foot. Returns whether to save.
fn bus(ui: &mut Ui, look: &Look, rect: Rect, told: &Told, state: &mut ViewState) -> bool {
    let content = panel::show(ui, look, rect, "Steps", "RMS against step 1, dB");
    let record = told.record.as_deref();
    state.typed.follow(&state.entries);
    let bottom = table::show(ui, look, content, record, &mut state.entries, &mut state.typed);
    let foot = content.bottom() - look.units(saving::HEIGHT_UNITS);
    let left = content.left();
    let middle = Rect::from_min_max(
        pos2(left, bottom + look.units(0.4)),
        pos2(content.right(), foot - look.units(0.3)),
    );
    table::answer(ui, look, middle, record, &waiting(told));
    let place = Rect::from_min_max(pos2(left, foot), content.max);
    saving::show(ui, look, place, record, &told.saving, &state.entries)
}

/// What to do on a bus before the test plays.
const WAITING: &str = "Waiting for the test: start the transport at the beginning of the project.";

/// What there is to say on the bus before a test: of the sum as far as readings tell, or what to do.
fn waiting(told: &Told) -> String {
    let answer = told.identified.as_ref().and_then(|identified| identified.result.as_ref().ok());
    let Some(meter) = answer else { return WAITING.to_owned() };
    let sum = meter.summing.as_ref().map_or("", |summing| &summing.sentence);
    let rate = if told.has_rate { "" } else { " The sample rate is not known without audio." };
    format!("{sum} {}{rate}", meter.assumed)
}

/// What to do, where there is no table.
fn hint(choices: &Choices) -> &'static str {
    let test = choices.feeds_play == FeedsPlay::Test;
    match choices.sum_test {
        SumTest::Off => {
            "Put one instance on each of two tracks, as feed 1 and feed 2, and one on the bus that \
             both are sent to at unity. The test plays from the beginning of the project; the loop \
             plays anywhere."
        }
        SumTest::Feed1 | SumTest::Feed2 if test => {
            "This instance is a feed: its output follows the transport from the beginning of the \
             project and is silent while it stands. The instance on the bus has the table."
        }
        SumTest::Feed1 | SumTest::Feed2 => {
            "This instance plays the loop while the transport runs: the same noise on both feeds, \
             independent noises, one 100 ms late, one inverted, over and over. Set both feeds \
             alike. The entries of the instance on the bus tell what each change did."
        }
        SumTest::Bus if test => WAITING,
        SumTest::Bus => {
            "The feeds play the loop: it is no test, and nothing is judged. The entries tell what \
             each change did and which kinds of meter show it."
        }
    }
}
