//! Time: peaks and loudness over one clock, what happened in between, and the way to any moment.

mod axis;
mod flags;
mod lane;
mod now;
mod pointer;
mod scale;

use egui::accesskit::Role;
use egui::{Align2, Button, EventFilter, Key, Rect, Response, RichText, Sense, Stroke, Ui};
use egui::{UiBuilder, WidgetInfo, pos2, vec2};
use ledgerline_measure::{Reading, words};

use super::glance::{Glance, Past};
use super::look::Look;
use super::panel;
use crate::history::Span;
use scale::Scale;

/// Height of the legend and of the flags, in units.
const LEGEND_UNITS: f32 = 1.9;
const FLAGS_UNITS: f32 = 1.55;
/// Height of the labels of the axis, in units.
const AXIS_UNITS: f32 = 1.45;
/// Width of the labels of levels, in units.
const LEVELS_UNITS: f32 = 3.6;
/// Width of what is read now, in units.
const NOW_UNITS: f32 = 8.6;
/// Where there is less height than this, in units, there is no lane of loudness.
const BOTH_LANES_UNITS: f32 = 13.0;
/// Share of the height that the peaks take beside the loudness.
const PEAKS_SHARE: f32 = 0.6;

/// What the view remembers from frame to frame.
#[derive(Debug, Clone, Copy, Default)]
pub struct ViewState {
    /// How much time is shown.
    pub span: Span,
    scale: scale::Held,
}

/// Draws the view, and lets the user go to a moment.
pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    rect: Rect,
    glance: &Glance,
    compared: Option<[u64; 2]>,
    view: &mut ViewState,
    past: &mut Option<Past>,
) {
    ui.painter().rect_filled(rect, look.units(0.3), look.palette.panel);
    let inner = rect.shrink2(vec2(look.units(0.6), look.units(0.35)));
    let head = Rect::from_min_size(inner.min, vec2(inner.width(), look.units(LEGEND_UNITS)));
    let body = Rect::from_min_max(pos2(inner.left(), head.bottom()), inner.max);
    let lanes = Rect::from_min_max(
        pos2(body.left() + look.units(LEVELS_UNITS), body.top() + look.units(FLAGS_UNITS)),
        pos2(body.right() - look.units(NOW_UNITS), body.bottom() - look.units(AXIS_UNITS)),
    );
    let scale = Scale::new(lanes.x_range(), glance, view);
    let reading = &glance.shown.reading;
    let loudness = lane::loudness(reading, &mut view.scale);
    let peaks = lane::peaks(reading);
    let (upper, lower) = split(look, lanes);
    let spans = self::spans(ui, look, head, &mut view.span);
    tints(ui, look, lanes, &scale, glance, compared);
    peaks.draw(ui, look, upper, glance, &scale);
    now::peaks(ui, look, upper, body.right(), reading, &peaks);
    if let Some(lower) = lower {
        loudness.draw(ui, look, lower, glance, &scale);
        now::loudness(ui, look, lower, body.right(), reading);
    }
    axis::draw(ui, look, lanes, &scale, end(glance));
    let strip = Rect::from_x_y_ranges(lanes.x_range(), body.top()..=lanes.top());
    // What lies under the flags is pointed at through them.
    let response = ui.interact(lanes, ui.scope_id().with("time"), Sense::click());
    flags::draw(ui, look, strip, lanes, &scale, glance, past);
    let legend = Rect::from_min_max(head.min, pos2(spans - look.units(0.6), head.bottom()));
    go(ui, look, &response, &scale, glance, past);
    match pointer::at(ui, look, &response, lanes, &scale, glance, past.as_ref()) {
        Some(words) => line(ui, look, legend, &words),
        None => lane::legend(ui, look, legend, reading),
    }
}

/// Peaks alone, for a screen that is small.
pub(super) fn show_peaks(
    ui: &mut Ui,
    look: &Look,
    rect: Rect,
    glance: &Glance,
    view: &mut ViewState,
) {
    ui.painter().rect_filled(rect, look.units(0.3), look.palette.panel);
    let inner = rect.shrink(look.units(0.3));
    let with_axis = inner.height() >= look.units(7.0);
    let foot = if with_axis { look.units(AXIS_UNITS) } else { 0.0 };
    let lane = Rect::from_min_max(
        pos2(inner.left() + look.units(LEVELS_UNITS), inner.top()),
        pos2(inner.right(), inner.bottom() - foot),
    );
    let scale = Scale::new(lane.x_range(), glance, view);
    lane::peaks(&glance.shown.reading).draw(ui, look, lane, glance, &scale);
    if with_axis {
        axis::draw(ui, look, lane, &scale, end(glance));
    }
}

/// The halves' bars, for a screen that is small. Returns where they end.
pub(super) fn bars(ui: &Ui, look: &Look, place: Rect, reading: &Reading) -> f32 {
    now::bars(ui, look, place, reading, &lane::peaks(reading))
}

/// Says that what is shown is the past, with the way back to now.
pub(super) fn sign_of_past(ui: &mut Ui, look: &Look, tabs: Rect, shown: &mut Option<Past>) {
    let Some(past) = shown else { return };
    let moment = words::moment(past.at_s.floor(), 0);
    let text = match past.entry {
        Some(entry) => format!("The past: entry {entry}, from {moment}.  Back to now"),
        None => format!("The past: {moment}.  Back to now"),
    };
    let width = look.units(25.0);
    let place = Rect::from_min_max(pos2(tabs.right() - width, tabs.top()), tabs.max);
    let button = Button::new(RichText::new(text).font(look.words(1.05)))
        .selected(true)
        .stroke(Stroke::new(look.units(0.14).max(1.5), look.palette.text))
        .min_size(place.size());
    let response = ui.put(place, button);
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, "Back to now"));
    panel::focus_ring(ui, look, &response);
    if response.clicked() {
        *shown = None;
    }
}

/// What the right edge of the lanes is called.
fn end(glance: &Glance) -> &'static str {
    if glance.frozen.is_some() { "frozen" } else { "now" }
}

/// The lanes of peaks and of loudness.
fn split(look: &Look, lanes: Rect) -> (Rect, Option<Rect>) {
    if lanes.height() < look.units(BOTH_LANES_UNITS) {
        return (lanes, None);
    }
    let gap = look.units(0.5);
    let middle = lanes.top() + lanes.height() * PEAKS_SHARE;
    (
        Rect::from_min_max(lanes.min, pos2(lanes.right(), middle - gap / 2.0)),
        Some(Rect::from_min_max(pos2(lanes.left(), middle + gap / 2.0), lanes.max)),
    )
}

/// The choice of the span, and where it begins.
fn spans(ui: &mut Ui, look: &Look, head: Rect, span: &mut Span) -> f32 {
    let layout = egui::Layout::right_to_left(egui::Align::Center);
    let mut row = ui.new_child(UiBuilder::new().max_rect(head).layout(layout).id_salt("spans"));
    for of in Span::ALL.into_iter().rev() {
        let on = *span == of;
        let button = Button::new(RichText::new(of.word()).font(look.words(1.0)))
            .selected(on)
            .stroke(Stroke::new(look.hairline(), look.palette.axis))
            .min_size(vec2(look.units(3.4), look.units(1.6)));
        let response = row.add(button);
        let label = format!("Show {}", of.word());
        response.widget_info(|| WidgetInfo::selected(Role::RadioButton, true, on, &label));
        panel::focus_ring(&row, look, &response);
        if response.clicked() {
            *span = of;
        }
    }
    row.min_rect().left()
}

/// Tints the two entries that are compared, and no other.
fn tints(
    ui: &Ui,
    look: &Look,
    lanes: Rect,
    scale: &Scale,
    glance: &Glance,
    compared: Option<[u64; 2]>,
) {
    let Some([against, to]) = compared else { return };
    let listed = glance.entries.ended.iter().chain(&glance.entries.under_way);
    for listed in listed {
        let strength = match listed.number {
            number if number == against => 0.05,
            number if number == to => 0.11,
            _ => continue,
        };
        let x = |at_s: f64| scale.x(at_s).clamp(lanes.left(), lanes.right());
        let place = Rect::from_x_y_ranges(x(listed.start_s)..=x(listed.end_s), lanes.y_range());
        if place.width() > 0.5 {
            let colour = super::palette::tint(look.palette.text, strength);
            ui.painter().rect_filled(place, 0.0, colour);
        }
    }
}

/// Goes to the moment that is clicked at, or from moment to moment by the arrow keys.
fn go(
    ui: &Ui,
    look: &Look,
    response: &Response,
    scale: &Scale,
    glance: &Glance,
    past: &mut Option<Past>,
) {
    let moments = &glance.given.history.moments;
    response.widget_info(|| {
        WidgetInfo::labeled(Role::Slider, true, "Time: arrow keys go to moments that have passed")
    });
    panel::focus_ring(ui, look, response);
    if response.clicked()
        && let Some(at) = response.interact_pointer_pos()
    {
        *past = moments.nearest(scale.at_s(at.x)).map(Past::moment);
    }
    if !response.has_focus() {
        return;
    }
    let arrows = EventFilter { horizontal_arrows: true, ..EventFilter::default() };
    ui.memory_mut(|memory| memory.set_focus_lock_filter(response.id, arrows));
    let step = |key| ui.input(|input| input.key_pressed(key));
    let step = i32::from(step(Key::ArrowRight)) - i32::from(step(Key::ArrowLeft));
    if step != 0 {
        let here_s = past.as_ref().map_or(scale.end_s(), |past| past.at_s);
        let there_s = here_s + f64::from(step) * (scale.seconds() / 60.0).max(1.0);
        *past = moments.nearest(there_s).filter(|_| there_s < scale.end_s()).map(Past::moment);
    }
}

/// The first of some words that fit into a line.
fn line(ui: &Ui, look: &Look, place: Rect, words: &[String]) {
    let (font, colour) = (look.words(1.0), look.palette.text);
    let galleys =
        words.iter().map(|words| ui.painter().layout_no_wrap(words.clone(), font.clone(), colour));
    if let Some(galley) = galleys.into_iter().find(|galley| galley.size().x <= place.width()) {
        let at = Align2::LEFT_CENTER.align_size_within_rect(galley.size(), place);
        ui.painter().galley(at.min, galley, colour);
    }
}
