//! What is read where the lanes end: left and right as they are, and the highest and the mean of it all.

use egui::{Align2, Rect, Stroke, StrokeKind, Ui, pos2};
use ledgerline_measure::reading::WindowLevels;
use ledgerline_measure::{Halves, Level, Reading, words};

use super::lane::Lane;
use crate::editor::look::Look;
use crate::editor::palette::tint;
use crate::editor::{marks, numbers, panel};

/// Width of a bar, in units.
const BAR_UNITS: f32 = 1.25;

/// The halves beside the peaks' lane, on its scale, and what is highest.
pub(super) fn peaks(ui: &Ui, look: &Look, lane: Rect, right: f32, reading: &Reading, scale: &Lane) {
    let palette = look.palette;
    let left = lane.right() + look.units(0.6);
    let end = bars(ui, look, Rect::from_x_y_ranges(left..=right, lane.y_range()), reading, scale);
    let bus = &reading.whole.bus;
    let place = Rect::from_x_y_ranges(end + look.units(0.3)..=right, lane.y_range());
    let over = bus.overs.is_some_and(|overs| overs > 0);
    let colour = if over { palette.fault } else { palette.quiet };
    let mut all = vec![
        ("max dBTP", numbers::level(bus.true_peak_dbtp), palette.whole),
        ("overs", numbers::count(bus.overs), colour),
    ];
    if let Some(read) = &reading.your_meter {
        all.insert(1, ("your meter", numbers::level(read.shows_db), palette.text));
    }
    figures(ui, look, place, &all);
}

/// A bar for each half. Returns where they end.
pub(super) fn bars(ui: &Ui, look: &Look, place: Rect, reading: &Reading, scale: &Lane) -> f32 {
    let (painter, palette) = (ui.painter(), look.palette);
    let windows = [&reading.windows.whole, &reading.windows.audible];
    let halves: Vec<(&str, [&WindowLevels; 2])> = match reading.halves {
        Halves::Mono => vec![("1", windows.map(|window| &window.bus))],
        halves => {
            let [a, b] = halves.letters();
            vec![(a, windows.map(|window| &window.a)), (b, windows.map(|window| &window.b))]
        }
    };
    let foot = look.units(1.3);
    let lane = Rect::from_min_max(place.min, pos2(place.right(), place.bottom() - foot));
    let mut left = place.left();
    for (name, [whole, audible]) in halves {
        let bar = Rect::from_x_y_ranges(left..=left + look.units(BAR_UNITS), lane.y_range());
        painter.rect_filled(bar, 0.0, tint(palette.ground, 0.6));
        let y = |level: Level| scale.y(lane, level.db().unwrap_or(f64::NEG_INFINITY));
        let (whole_y, audible_y) = (y(whole.sample_peak_dbfs), y(audible.sample_peak_dbfs));
        let below = |top: f32| Rect::from_min_max(pos2(bar.left(), top), bar.max);
        painter.rect_filled(below(audible_y), 0.0, tint(palette.audible, 0.7));
        if audible_y - whole_y >= 1.0 {
            let hidden =
                Rect::from_min_max(pos2(bar.left(), whole_y), pos2(bar.right(), audible_y));
            marks::dense_hatching(painter, look, hidden);
        }
        let stroke = Stroke::new(look.units(0.13).max(1.0), palette.whole);
        painter.hline(bar.x_range(), whole_y, stroke);
        painter.rect_stroke(
            bar,
            0.0,
            Stroke::new(look.hairline(), palette.rule),
            StrokeKind::Outside,
        );
        let at = pos2(bar.center().x, lane.bottom() + foot / 2.0);
        painter.text(at, Align2::CENTER_CENTER, name, look.words(1.0), palette.text);
        let spoken = format!(
            "{name}: sample peak {} dBFS, audible {}, over {} s",
            numbers::level(whole.sample_peak_dbfs),
            numbers::level(audible.sample_peak_dbfs),
            words::fixed(reading.windows.peak_window_s, 1)
        );
        panel::describe(ui, bar, name, || spoken.clone()).on_hover_text(&spoken);
        left = bar.right() + look.units(0.35);
    }
    left
}

/// Integrated and short-term loudness, both bands.
pub(super) fn loudness(ui: &Ui, look: &Look, lane: Rect, right: f32, reading: &Reading) {
    let place = Rect::from_x_y_ranges(lane.right() + look.units(0.6)..=right, lane.y_range());
    let palette = look.palette;
    let (whole, audible) = (&reading.whole.bus, &reading.audible.bus);
    figures(
        ui,
        look,
        place,
        &[
            ("I audible", numbers::level(audible.integrated_lufs), palette.audible),
            ("I whole", numbers::level(whole.integrated_lufs), palette.whole),
            ("S audible", numbers::level(audible.short_term_lufs), palette.audible),
        ],
    );
}

/// Names with numbers under them, as many as there is height for.
fn figures(ui: &Ui, look: &Look, place: Rect, all: &[(&str, String, egui::Color32)]) {
    let (painter, palette) = (ui.painter(), look.palette);
    let (name_height, number_height) = (look.units(1.3), look.units(1.65));
    let mut top = place.top();
    for (name, number, colour) in all {
        if top + name_height + number_height > place.bottom() + look.units(0.1) {
            return;
        }
        let at = pos2(place.right(), top + name_height / 2.0);
        painter.text(at, Align2::RIGHT_CENTER, *name, look.words(1.0), palette.quiet);
        let at = pos2(place.right(), top + name_height + number_height / 2.0);
        painter.text(at, Align2::RIGHT_CENTER, number, look.digits(1.35), *colour);
        let all = Rect::from_x_y_ranges(place.x_range(), top..=top + name_height + number_height);
        let spoken = format!("{name} {number}");
        panel::describe(ui, all, name, || spoken.clone());
        top += name_height + number_height + look.units(0.2);
    }
}
