//! What the screen says.

use super::state::ScreenState;
use crate::choices::Choices;
use crate::editor::answer::{self, Said};
use crate::editor::glance::Glance;

/// What is said. While the sum test is looked at, it is the test's.
pub(super) fn said(glance: &Glance, choices: &Choices, state: &mut ScreenState) -> Vec<Said> {
    let record = state.sum_test.record.as_deref();
    let tests = choices.hears_test() && state.shows_sum_test();
    if let Some(record) = record.filter(|_| tests) {
        return vec![Said::of_test(record)];
    }
    let reading = &glance.shown.reading;
    if !glance.stands_still {
        state.standing.take(reading, glance.clock_s);
    }
    let standing = (!glance.stands_still).then_some((&state.standing, glance.clock_s));
    let mut said = answer::said(reading, standing, &state.messages);
    if let Some(read) = &reading.your_meter {
        answer::speak_of_yours(&mut said, read);
    }
    said
}
