//! The energy of the whole band as a bar: how much is audible, and how much is hidden above, below
//! and as DC. The shares add to the whole bar.

use egui::{Align2, Painter, Rect, Stroke, Ui, pos2, vec2};
use ledgerline_measure::reading::Hidden;

use super::look::Look;
use super::marks;
use super::palette::tint;
use super::{numbers, panel};

/// One share: its name, its size, and whether it is hidden.
struct Share {
    name: &'static str,
    share: Option<f64>,
    hidden: bool,
}

/// Draws the bar.
pub fn show(ui: &Ui, look: &Look, rect: Rect, hidden: &Hidden) {
    let shares = [
        Share { name: "DC", share: hidden.dc_share, hidden: true },
        Share { name: "below", share: hidden.below_share, hidden: true },
        Share { name: "audible", share: hidden.audible_share, hidden: false },
        Share { name: "above", share: hidden.above_share, hidden: true },
    ];
    let painter = ui.painter();
    let caption = painter.text(
        rect.left_center(),
        Align2::LEFT_CENTER,
        "energy",
        look.words(0.94),
        look.palette.text,
    );
    let bar = Rect::from_min_max(pos2(caption.right() + look.units(0.6), rect.top()), rect.max);
    if shares.iter().all(|s| s.share.is_none()) {
        let line = Stroke::new(look.hairline(), look.palette.rule);
        painter.rect_stroke(bar, 0.0, line, egui::StrokeKind::Inside);
        let at = bar.center();
        painter.text(at, Align2::CENTER_CENTER, "none yet", look.words(0.84), look.palette.quiet);
    } else {
        segments(painter, look, bar, &shares);
    }
    panel::describe(ui, rect, "shares", || in_words(&shares));
}

fn segments(painter: &Painter, look: &Look, bar: Rect, shares: &[Share]) {
    let palette = look.palette;
    let mut left = bar.left();
    for part in shares {
        let width = part.share.unwrap_or(0.0).clamp(0.0, 1.0) as f32 * bar.width();
        let place = Rect::from_min_size(pos2(left, bar.top()), vec2(width, bar.height()));
        left += width;
        if width < 1.0 {
            continue;
        }
        let colour = if part.hidden { palette.hidden } else { palette.audible };
        if part.hidden {
            marks::hatching(painter, look, place);
        } else {
            painter.rect_filled(place, 0.0, tint(colour, 0.16));
        }
        painter.rect_stroke(
            place,
            0.0,
            Stroke::new(look.hairline(), colour),
            egui::StrokeKind::Inside,
        );
        label(painter, look, place, part, colour);
    }
}

/// The share in words, as long as there is space; on a patch, so that hatching does not cut it.
fn label(painter: &Painter, look: &Look, place: Rect, part: &Share, colour: egui::Color32) {
    let share = numbers::share(part.share);
    for text in [format!("{} {share}", part.name), share] {
        let galley = painter.layout_no_wrap(text, look.words(0.94), colour);
        if galley.size().x + look.units(0.8) <= place.width() {
            let at = Align2::CENTER_CENTER.anchor_size(place.center(), galley.size());
            let patch =
                at.expand2(vec2(look.units(0.25), 0.0)).intersect(place.shrink(look.hairline()));
            painter.rect_filled(patch, look.units(0.15), look.palette.panel);
            painter.galley(at.min, galley, colour);
            return;
        }
    }
}

fn in_words(shares: &[Share]) -> String {
    let parts: Vec<_> =
        shares.iter().map(|s| format!("{} {}", s.name, numbers::share(s.share))).collect();
    format!("Shares of the energy: {}", parts.join(", "))
}
