//! Where the parts of the screen lie. A part that finds no space is left out whole; text does not shrink.

use egui::{Rect, pos2};

use crate::editor::look::Look;
use crate::params::window::Drawer;

/// Space around and between the parts, in units.
const MARGIN_UNITS: f32 = 0.6;
/// Below this, in units, the screen is compact.
const LEAST_WIDTH_UNITS: f32 = 62.0;
const LEAST_HEIGHT_UNITS: f32 = 33.0;
/// Height of the head, in units.
const HEAD_UNITS: f32 = 2.3;
/// Height of the answer, in units.
const ANSWER_UNITS: f32 = 7.4;
/// Height of the tabs of the drawers, in units.
const TABS_UNITS: f32 = 2.1;
/// Width of the numbers and of the account, in units, and what they take of what is left of the width.
const SIDE_UNITS: f32 = 21.5;
const SIDE_SHARE: f32 = 0.1;
/// Height of the numbers, of the account, of what changed, and of the least time view, in units.
const NUMBERS_UNITS: f32 = 14.6;
const ACCOUNT_UNITS: f32 = 14.0;
const CHANGE_UNITS: f32 = 11.2;
const LEAST_TIME_UNITS: f32 = 12.0;

/// The parts of a screen.
pub(super) enum Places {
    Compact(CompactPlaces),
    Full(FullPlaces),
}

/// The parts of a screen that is small.
pub(super) struct CompactPlaces {
    pub(super) answer: Rect,
    pub(super) numbers: Rect,
    pub(super) peaks: Rect,
    pub(super) figures: Rect,
}

/// The parts of a screen that has space for more.
pub(super) struct FullPlaces {
    pub(super) head: Rect,
    pub(super) answer: Rect,
    pub(super) numbers: Option<Rect>,
    pub(super) account: Option<Rect>,
    pub(super) time: Option<Rect>,
    pub(super) change: Option<Rect>,
    /// What is drawn out.
    pub(super) drawer: Option<(Drawer, Rect)>,
    pub(super) tabs: Rect,
}

impl Places {
    pub(super) fn new(look: &Look, window: Rect, drawer: Option<Drawer>) -> Self {
        let gap = look.units(MARGIN_UNITS);
        let area = window.shrink(gap);
        let is_small = window.width() < look.units(LEAST_WIDTH_UNITS)
            || window.height() < look.units(LEAST_HEIGHT_UNITS);
        if is_small {
            Self::Compact(compact(look, area))
        } else {
            Self::Full(full(look, area, drawer))
        }
    }
}

/// How high a drawer is at least, in units.
fn drawer_units(drawer: Drawer) -> f32 {
    match drawer {
        Drawer::Ledger => 24.0,
        Drawer::Halves => 19.0,
        Drawer::Spectrum => 19.0,
        Drawer::Entries => 20.0,
        // All there is.
        Drawer::SumTest => f32::INFINITY,
        Drawer::YourMeter | Drawer::Settings => 21.0,
    }
}

fn full(look: &Look, area: Rect, drawer: Option<Drawer>) -> FullPlaces {
    let gap = look.units(MARGIN_UNITS);
    let row = |top: f32, bottom: f32| Rect::from_x_y_ranges(area.x_range(), top..=bottom);
    let head = row(area.top(), area.top() + look.units(HEAD_UNITS));
    let answer = row(head.bottom() + gap, head.bottom() + gap + look.units(ANSWER_UNITS));
    let tabs = row(area.bottom() - look.units(TABS_UNITS), area.bottom());
    let mut middle = row(answer.bottom() + gap, tabs.top() - gap);
    let mut places = FullPlaces {
        head,
        answer,
        numbers: None,
        account: None,
        time: None,
        change: None,
        drawer: None,
        tabs,
    };
    if let Some(drawer) = drawer {
        let least = look.units(drawer_units(drawer));
        let above = look.units(NUMBERS_UNITS.max(LEAST_TIME_UNITS));
        // Half of what is there, where that is more than it needs.
        let height = least.max((middle.height() - gap) * 0.55);
        let alone = middle.height() - least - gap < above;
        let top = if alone {
            middle.top()
        } else {
            (middle.bottom() - height).max(middle.top() + above + gap)
        };
        places.drawer = Some((drawer, row(top, middle.bottom())));
        if alone {
            return places;
        }
        middle = row(middle.top(), top - gap);
    }
    let spare = (area.width() - look.units(LEAST_WIDTH_UNITS)).max(0.0);
    let split = middle.left() + look.units(SIDE_UNITS) + spare * SIDE_SHARE;
    let side = Rect::from_min_max(middle.min, pos2(split, middle.bottom()));
    let main = Rect::from_min_max(pos2(split + gap, middle.top()), middle.max);
    let numbers_bottom = side.top() + look.units(NUMBERS_UNITS);
    places.numbers = Some(Rect::from_min_max(side.min, pos2(side.right(), numbers_bottom)));
    if side.bottom() - numbers_bottom - gap >= look.units(ACCOUNT_UNITS) {
        places.account =
            Some(Rect::from_min_max(pos2(side.left(), numbers_bottom + gap), side.max));
    } else {
        places.numbers = Some(side);
    }
    let change_top = main.bottom() - look.units(CHANGE_UNITS);
    if change_top - gap - main.top() >= look.units(LEAST_TIME_UNITS + 4.0) {
        places.change = Some(Rect::from_min_max(pos2(main.left(), change_top), main.max));
        places.time = Some(Rect::from_min_max(main.min, pos2(main.right(), change_top - gap)));
    } else {
        places.time = Some(main);
    }
    places
}

fn compact(look: &Look, area: Rect) -> CompactPlaces {
    let gap = look.units(MARGIN_UNITS);
    let answer_height = (area.height() * 0.34).clamp(look.units(3.4), look.units(8.0));
    let answer = Rect::from_min_max(area.min, pos2(area.right(), area.top() + answer_height));
    let rest = Rect::from_min_max(pos2(area.left(), answer.bottom() + gap), area.max);
    let left = rest.left() + look.units(15.2) + (rest.width() - look.units(42.0)).max(0.0) * 0.2;
    let right = rest.right() - look.units(11.5);
    CompactPlaces {
        answer,
        numbers: Rect::from_min_max(rest.min, pos2(left, rest.bottom())),
        peaks: Rect::from_min_max(pos2(left + gap, rest.top()), pos2(right - gap, rest.bottom())),
        figures: Rect::from_min_max(pos2(right, rest.top()), rest.max),
    }
}
