//! How the halves relate: a scale, and the numbers beside it.

mod scale;
mod table;

use egui::{Rect, Ui};
use ledgerline_measure::Halves;
use ledgerline_measure::reading::Reading;

use super::look::Look;
use super::panel;

/// Draws the scale and the table under it.
pub fn show(ui: &Ui, look: &Look, rect: Rect, reading: &Reading) {
    let remark = match reading.halves {
        Halves::Mono => String::new(),
        halves => format!("how {} add", halves.both()),
    };
    let content = panel::show(ui, look, rect, "Halves", &remark);
    if reading.halves == Halves::Mono {
        panel::empty(ui, look, content, "Mono: there are no two halves to compare.");
        return;
    }
    let split = content.left() + (content.width() * 0.42).max(look.units(22.0));
    let (left, right) = content.split_left_right_at_x(split);
    scale::show(ui, look, left.with_max_x(split - look.units(1.2)), reading);
    table::show(ui, look, right, reading);
}
