//! A screen with little space: the sentence, both numbers, the peaks, and what is read now.

use egui::{Button, Rect, RichText, Stroke, Ui, WidgetInfo, accesskit::Role, pos2, vec2};

use super::places::CompactPlaces;
use super::said::said;
use super::{ScreenResponse, ScreenState};
use crate::choices::Choices;
use crate::editor::glance::Glance;
use crate::editor::look::Look;
use crate::editor::{answer, numbers, panel, time};

/// Width of the control, in units.
const MARK_UNITS: f32 = 5.0;

/// Draws it.
pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    places: &CompactPlaces,
    glance: &Glance,
    choices: &Choices,
    state: &mut ScreenState,
) -> ScreenResponse {
    let said = said(glance, choices, state);
    answer::show_sentence(ui, look, places.answer, &said);
    let (seen, past) = (&mut state.overs_seen, &mut state.past);
    answer::show_numbers(ui, look, places.numbers, glance, seen, past);
    time::show_peaks(ui, look, places.peaks, glance, &mut state.time);
    let place = places.figures;
    ui.painter().rect_filled(place, look.units(0.3), look.palette.panel);
    let inner = place.shrink(look.units(0.4));
    let foot = Rect::from_min_max(pos2(inner.left(), inner.bottom() - look.units(1.8)), inner.max);
    let body = Rect::from_min_max(inner.min, pos2(inner.right(), foot.top() - look.units(0.2)));
    let reading = &glance.shown.reading;
    let end = time::bars(ui, look, body, reading);
    let right = Rect::from_min_max(pos2(end + look.units(0.2), body.top()), body.max);
    lines(ui, look, right, reading);
    let button = Button::new(RichText::new("Mark").font(look.words(1.0)))
        .stroke(Stroke::new(look.hairline(), look.palette.axis))
        .min_size(vec2(look.units(MARK_UNITS), foot.height()));
    let response = ui.put(foot, button);
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, "Mark"));
    panel::focus_ring(ui, look, &response);
    ScreenResponse { mark: response.clicked(), ..ScreenResponse::default() }
}

/// Integrated loudness, true peak and overs, a line each.
fn lines(ui: &Ui, look: &Look, place: Rect, reading: &ledgerline_measure::Reading) {
    let palette = look.palette;
    let all = [
        ("I", numbers::level(reading.audible.bus.integrated_lufs), palette.audible),
        ("TP", numbers::level(reading.whole.bus.true_peak_dbtp), palette.whole),
        ("over", numbers::count(reading.whole.bus.overs), palette.quiet),
    ];
    let height = (place.height() / all.len() as f32).min(look.units(1.6));
    for (index, (name, number, colour)) in all.into_iter().enumerate() {
        let y = place.top() + height * (index as f32 + 0.5);
        let painter = ui.painter();
        let at = pos2(place.left(), y);
        painter.text(at, egui::Align2::LEFT_CENTER, name, look.words(1.0), palette.quiet);
        let at = pos2(place.right(), y);
        painter.text(at, egui::Align2::RIGHT_CENTER, &number, look.digits(1.0), colour);
        let row = Rect::from_x_y_ranges(place.x_range(), y - height / 2.0..=y + height / 2.0);
        panel::describe(ui, row, name, || format!("{name} {number}"));
    }
}
