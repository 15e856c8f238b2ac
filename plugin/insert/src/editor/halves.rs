//! How the halves relate: a scale, and the numbers under it.

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
    let foot = table::height(look);
    let (above, below) = content.split_top_bottom_at_y(content.bottom() - foot);
    scale::show(ui, look, above, table::columns(look, content), reading);
    table::show(ui, look, below, reading);
}
