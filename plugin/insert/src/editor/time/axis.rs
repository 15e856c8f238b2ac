//! The clock under the lanes: seconds since the first frame.

use egui::{Align2, Rect, Stroke, Ui, pos2};
use ledgerline_measure::words;

use super::scale::Scale;
use crate::editor::look::Look;

/// Distances of the labels, in seconds.
const STEPS_S: [f64; 16] = [
    1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1_800.0, 3_600.0, 7_200.0,
    14_400.0, 21_600.0, 43_200.0,
];
/// Least width between two labels, in units.
const APART_UNITS: f32 = 7.0;

/// Draws it under the lanes; `end` is what their right edge is called.
pub(super) fn draw(ui: &Ui, look: &Look, lanes: Rect, scale: &Scale, end: &str) {
    let (painter, palette) = (ui.painter(), look.palette);
    let wide_s = scale.seconds() / f64::from(lanes.width() / look.units(APART_UNITS));
    let step_s = STEPS_S.into_iter().find(|step_s| *step_s >= wide_s).unwrap_or(86_400.0);
    let y = lanes.bottom() + look.units(0.85);
    let mut at_s = (scale.start_s().max(0.0) / step_s).ceil() * step_s;
    let mut free = lanes.left() - look.units(1.0);
    let right = lanes.right() - look.units(3.6);
    while at_s <= scale.end_s() {
        let x = scale.x(at_s);
        let text = words::moment(at_s, 0);
        let galley = painter.layout_no_wrap(text, look.digits(1.0), palette.quiet);
        let place = Align2::CENTER_CENTER.anchor_size(pos2(x, y), galley.size());
        let line = Stroke::new(look.hairline(), palette.rule);
        painter.vline(x, lanes.y_range(), line);
        if place.left() > free && place.right() < right {
            free = place.right();
            painter.galley(place.min, galley, palette.quiet);
        }
        at_s += step_s;
    }
    let at = pos2(lanes.right(), y);
    painter.text(at, Align2::RIGHT_CENTER, end, look.words(1.0), palette.text);
}
