//! Flags over the lanes: entries by their number, and since when something takes room.

use egui::accesskit::Role;
use egui::{Align2, Rect, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2};
use ledgerline_measure::causes::CauseCode;
use ledgerline_measure::entries::OpenedBy;
use ledgerline_measure::entries::change::What;
use ledgerline_measure::words;

use super::scale::Scale;
use crate::editor::glance::{Glance, Past};
use crate::editor::look::Look;
use crate::editor::marks;
use crate::editor::panel;
use crate::entries::board::Listed;

/// Moments that are this close to a second are of that second.
const ROUNDING_S: f64 = 0.005;
/// How far aside a flag may stand, in units.
const ASIDE_UNITS: f32 = 2.2;
/// Space between two flags, in units.
const GAP_UNITS: f32 = 0.25;

/// A flag.
struct Flag {
    at_s: f64,
    /// The number of its entry.
    entry: Option<Listed>,
    text: String,
    /// Without its word, where there is no space.
    short: String,
    /// Whether the user set it.
    is_set: bool,
    /// Whether nobody can tell what happened: sound that moves by itself begins entries by itself.
    is_faint: bool,
}

/// Draws the flags in `strip`, their lines through the lanes, and goes to an entry that is clicked at.
pub(super) fn draw(
    ui: &Ui,
    look: &Look,
    strip: Rect,
    lanes: Rect,
    scale: &Scale,
    glance: &Glance,
    past: &mut Option<Past>,
) {
    let mut flags = entries(glance);
    flags.extend(causes(glance));
    flags.extend(stops(glance, scale));
    flags.retain(|flag| scale.holds(flag.at_s));
    flags.sort_by(|one, other| one.at_s.total_cmp(&other.at_s));
    let mut free = strip.left() - look.units(GAP_UNITS);
    let ahead: Vec<f32> = flags.iter().skip(1).map(|flag| scale.x(flag.at_s)).collect();
    for (index, flag) in flags.iter().enumerate() {
        let x = scale.x(flag.at_s);
        let palette = look.palette;
        let line = Stroke::new(look.hairline(), palette.axis);
        if !flag.is_faint {
            marks::dashed_vertical(ui.painter(), x, lanes.top(), lanes.bottom(), line);
        }
        let next = ahead.get(index).copied().unwrap_or(strip.right()).min(strip.right());
        let layout = |text: &str| {
            let colour = match (flag.is_set, flag.is_faint) {
                (true, _) => palette.ground,
                (_, true) => palette.quiet,
                _ => palette.text,
            };
            ui.painter().layout_no_wrap(text.to_owned(), look.words(1.0), colour)
        };
        let width = |galley: &egui::Galley| galley.size().x + look.units(0.5);
        let (full, short) = (layout(&flag.text), layout(&flag.short));
        let galley =
            if x + width(&full) + look.units(GAP_UNITS) <= next.max(x) { full } else { short };
        // No flag over another: a little aside, or those that find no space have their line alone.
        let least = free + look.units(GAP_UNITS);
        let left = x.min(strip.right() - width(&galley)).max(least);
        let right = left + width(&galley);
        if left - x > look.units(ASIDE_UNITS) || right > strip.right() + 0.5 {
            continue;
        }
        let size = vec2(width(&galley), strip.height() - look.units(0.2));
        let place = Rect::from_min_size(pos2(left, strip.top()), size);
        free = place.right();
        let (fill, edge) = match (flag.is_set, &flag.entry) {
            (true, _) => (palette.text, palette.text),
            _ if flag.is_faint => (palette.panel, palette.rule),
            (false, Some(_)) => (palette.panel, palette.axis),
            (false, None) => (palette.panel, palette.hidden),
        };
        let stroke = Stroke::new(look.hairline(), edge);
        ui.painter().rect(place, look.units(0.2), fill, stroke, StrokeKind::Inside);
        let at = Align2::CENTER_CENTER.anchor_size(place.center(), galley.size());
        ui.painter().galley(at.min, galley, palette.text);
        let spoken =
            format!("{}, at {}", flag.text, words::moment((flag.at_s + ROUNDING_S).floor(), 0));
        let Some(entry) = &flag.entry else {
            panel::describe(ui, place, &spoken, || spoken.clone());
            continue;
        };
        let response =
            ui.interact(place, ui.scope_id().with(("flag", entry.number)), Sense::click());
        response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &spoken));
        panel::focus_ring(ui, look, &response);
        if response.on_hover_text("Show this entry").clicked() {
            let near = glance.given.history.moments.nearest(entry.end_s);
            *past = Some(Past::entry(entry, near));
        }
    }
}

/// Where entries begin; the first begins with the sound.
fn entries(glance: &Glance) -> Vec<Flag> {
    let listed = glance.entries.ended.iter().chain(&glance.entries.under_way);
    let flags = listed.map(|listed| {
        let word = match listed.opened_by {
            OpenedBy::Step => match listed.what {
                Some(What::CannotTell | What::None) | None => "",
                Some(what) => what.word(),
            },
            by => by.word(),
        };
        let text = format!("{} {word}", listed.number);
        Flag {
            at_s: listed.start_s,
            entry: Some(listed.clone()),
            text: text.trim_end().to_owned(),
            short: listed.number.to_string(),
            is_set: listed.opened_by == OpenedBy::Mark,
            is_faint: listed.opened_by == OpenedBy::Step && word.is_empty(),
        }
    });
    flags.collect()
}

/// Where the host stopped, and went on.
fn stops(glance: &Glance, scale: &Scale) -> Vec<Flag> {
    let (columns, _) = glance.columns().of(scale.span);
    let stops = columns.filter_map(|column| column.stop_s);
    let flag = |at_s| {
        let text = String::from("stop");
        Flag { at_s, entry: None, short: text.clone(), text, is_set: false, is_faint: true }
    };
    stops.map(flag).collect()
}

/// Since when causes take room.
fn causes(glance: &Glance) -> Vec<Flag> {
    let causes = glance.shown.reading.causes.iter();
    let causes = causes.filter(|cause| cause.code != CauseCode::InterSample);
    let flags = causes.filter_map(|cause| {
        let since_s = cause.since_s()?;
        let text = cause.tone_hz.map_or_else(|| cause.word(), words::frequency);
        let (at_s, short) = (glance.begins_s + since_s, text.clone());
        Some(Flag { at_s, entry: None, text, short, is_set: false, is_faint: false })
    });
    flags.collect()
}
