//! Where the parts of the screen lie.

use egui::{Rect, pos2};

use crate::editor::look::{LEAST_HEIGHT_UNITS, LEAST_WIDTH_UNITS, Look};

/// Space around and between the parts, in units.
pub(super) const MARGIN_UNITS: f32 = 0.6;
/// Height of the head, in units.
const HEADER_UNITS: f32 = 2.4;
/// Height of the sentence, in units.
const SENTENCE_UNITS: f32 = 10.4;
/// Height of the ledger, in units.
const LEDGER_UNITS: f32 = 22.2;
/// Width of the halves, and of the settings, in units.
const SIDE_UNITS: f32 = 18.4;

/// Where the parts lie.
pub(super) struct Places {
    pub(super) header: Rect,
    pub(super) sentence: Rect,
    pub(super) ledger: Rect,
    /// The halves, or the settings, which reach down to the foot.
    pub(super) side: Rect,
    pub(super) room: Rect,
    pub(super) spectrum: Rect,
    /// All that lies below the ledger and the halves.
    pub(super) foot: Rect,
}

impl Places {
    pub(super) fn new(look: &Look, window: Rect, settings_open: bool) -> Self {
        let gap = look.units(MARGIN_UNITS);
        let area = window.shrink(gap);
        // Height that the window has beyond the least goes to the ledger and to what is under it.
        let spare = (window.height() - look.units(LEAST_HEIGHT_UNITS)).max(0.0);
        let wide = (window.width() - look.units(LEAST_WIDTH_UNITS)).max(0.0);
        let row = |top: f32, height: f32| Rect::from_x_y_ranges(area.x_range(), top..=top + height);
        let header = row(area.top(), look.units(HEADER_UNITS));
        let sentence = row(header.bottom() + gap, look.units(SENTENCE_UNITS));
        let middle = row(sentence.bottom() + gap, look.units(LEDGER_UNITS) + spare * 0.3);
        let foot = Rect::from_min_max(pos2(area.left(), middle.bottom() + gap), area.max);
        let side_left = area.right() - look.units(SIDE_UNITS) - wide * 0.15;
        let left_right = if settings_open { side_left - gap } else { area.right() };
        let side_bottom = if settings_open { area.bottom() } else { middle.bottom() };
        let split =
            foot.left() + (left_right - foot.left()) * if settings_open { 0.49 } else { 0.48 };
        Self {
            header,
            sentence,
            ledger: Rect::from_min_max(middle.min, pos2(side_left - gap, middle.bottom())),
            side: Rect::from_min_max(
                pos2(side_left, middle.top()),
                pos2(area.right(), side_bottom),
            ),
            room: Rect::from_min_max(foot.min, pos2(split - gap / 2.0, foot.bottom())),
            spectrum: Rect::from_min_max(
                pos2(split + gap / 2.0, foot.top()),
                pos2(left_right, foot.bottom()),
            ),
            foot,
        }
    }
}
