//! The entries on the screen: what changed last, or between two that are picked, and all of them.

mod change;
mod list;
mod row;
mod shown;

use egui::{Rect, Ui, pos2};
use ledgerline_measure::detector::MeterKind;

use super::glance::{Glance, Past};
use super::look::Look;
use crate::entries::beside::Beside;
use crate::entries::board::Pair;
pub(super) use row::show as show_row;
pub(super) use shown::shown;

/// Width of the list, in units.
const LIST_UNITS: f32 = 23.2;
/// Width of the fields beside it, in units, and how wide a drawer has space for them.
const FIELDS_UNITS: f32 = 5.2;
const WIDE_UNITS: f32 = 74.0;
/// Space between the parts, in units.
const GAP_UNITS: f32 = 0.6;

/// What the view remembers from frame to frame.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ViewState {
    /// The numbers of the entries that are picked, the latest pick last.
    pub picked: [Option<u64>; 2],
    /// What the user's own meter showed beside them.
    pub beside: Beside,
    /// How many of the latest entries lie before those that are listed.
    later: usize,
    /// The kind of the user's own meter, where it is known.
    pub(super) yours: Option<MeterKind>,
}

impl ViewState {
    /// Two entries to compare, the earlier first.
    #[must_use]
    pub fn pair(&self) -> Option<Pair> {
        let [one, other] = self.picked;
        one.zip(other).map(|(one, other)| [one.min(other), one.max(other)])
    }

    /// The entry that was picked last.
    fn latest_pick(&self) -> Option<u64> {
        self.picked[1]
    }

    /// Picks an entry, or lets go of it. Of three the first is let go.
    fn pick(&mut self, number: u64) {
        let [first, second] = self.picked;
        self.picked = if second == Some(number) {
            [None, first]
        } else if first == Some(number) {
            [None, second]
        } else {
            [second, Some(number)]
        };
    }
}

/// Draws the view and changes what the user picks.
pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    rect: Rect,
    glance: &Glance,
    view: &mut ViewState,
    past: &mut Option<Past>,
) {
    let gap = look.units(GAP_UNITS);
    let is_wide = rect.width() >= look.units(WIDE_UNITS);
    let fields = if is_wide { look.units(FIELDS_UNITS) } else { 0.0 };
    let split = rect.right() - look.units(LIST_UNITS) - fields;
    let left = Rect::from_min_max(rect.min, pos2(split - gap, rect.bottom()));
    let right = Rect::from_min_max(pos2(split, rect.top()), rect.max);
    change::show(ui, look, left, &glance.entries, view);
    if let Some(entry) = list::show(ui, look, (right, fields), glance, view) {
        *past = Some(entry);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_are_picked_in_any_order_and_a_third_takes_the_place_of_the_first() {
        let mut state = ViewState::default();
        let mut picks = |number| {
            state.pick(number);
            state.pair()
        };
        let pairs = [5, 2, 9, 9, 2].map(&mut picks);
        assert_eq!(pairs, [None, Some([2, 5]), Some([2, 9]), None, None]);
    }
}
