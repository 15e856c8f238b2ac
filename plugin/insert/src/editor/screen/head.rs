//! The head of the screen: which bus this is, what is switched on, what is aimed at, and the controls.

mod menus;

use std::sync::Arc;

use egui::accesskit::Role;
use egui::{Align2, Button, Galley, Layout, Pos2, Rect, Response, RichText, Stroke, StrokeKind};
use egui::{Ui, UiBuilder, WidgetInfo, pos2, vec2};
use ledgerline_measure::words;

use super::{ScreenResponse, ScreenState};
use crate::choices::{Choices, FeedsPlay, Listen, SumTest};
use crate::editor::glance::Glance;
use crate::editor::look::Look;
use crate::editor::marks::fitted;
use crate::editor::panel;

/// Narrower heads leave the name out where there are badges, and the ceiling, in units.
const WIDE_UNITS: f32 = 76.0;

/// Draws the head and changes what the user changes.
pub(super) fn show(
    ui: &mut Ui,
    look: &Look,
    rect: Rect,
    glance: &Glance,
    choices: &mut Choices,
    state: &mut ScreenState,
) -> ScreenResponse {
    let layout = Layout::right_to_left(egui::Align::Center);
    let mut row = ui.new_child(UiBuilder::new().max_rect(rect).layout(layout).id_salt("head"));
    let mut asked = ScreenResponse::default();
    menus::more(&mut row, look, &mut asked, state);
    let frozen = state.frozen.is_some();
    let freeze = if frozen { "Go on" } else { "Freeze" };
    let tip = "Keep the screen as it is; measuring goes on";
    if control(&mut row, look, freeze, frozen, "Freeze", tip).clicked() {
        state.freeze(glance);
    }
    asked.mark =
        control(&mut row, look, "Mark", false, "Mark", "Begin another entry here").clicked();
    menus::listen(&mut row, look, choices);
    menus::aim(&mut row, look, choices, rect.width() > look.units(WIDE_UNITS));
    let controls = row.min_rect().left();

    let y = rect.center().y;
    let mut left = rect.left() + look.units(0.2);
    let badges = badges(choices, frozen);
    if badges.is_empty() || rect.width() > look.units(WIDE_UNITS) {
        let (font, colour) = (look.words(1.3), look.palette.text);
        let at = pos2(left, y);
        let name = ui.painter().text(at, Align2::LEFT_CENTER, "Ledgerline", font, colour);
        left = name.right() + look.units(0.9);
    }
    left = draw_badges(ui, look, pos2(left, y), controls - look.units(0.6), &badges);
    let text = measured(&state.title, glance);
    let width = controls - look.units(0.8) - left;
    if width > look.units(4.0) {
        let (font, colour) = (look.words(1.0), look.palette.quiet);
        let at = pos2(left, y);
        fitted(ui.painter(), at, Align2::LEFT_CENTER, width, &text, font, colour);
        let place = Rect::from_x_y_ranges(left..=controls, rect.y_range());
        panel::describe(ui, place, "measured", || text.clone());
    }
    asked
}

/// A control of the head.
fn control(
    ui: &mut Ui,
    look: &Look,
    text: &str,
    pressed: bool,
    label: &str,
    tip: &str,
) -> Response {
    let button = Button::new(RichText::new(text).font(look.words(1.0)))
        .selected(pressed)
        .stroke(Stroke::new(look.hairline(), look.palette.axis))
        .min_size(vec2(look.units(2.4), look.units(1.9)));
    let response = ui.add(button);
    response.widget_info(|| WidgetInfo::selected(Role::Button, true, pressed, label));
    panel::focus_ring(ui, look, &response);
    response.on_hover_text(tip)
}

/// Which bus, and at which rate.
fn measured(title: &str, glance: &Glance) -> String {
    let title = if title.is_empty() { String::new() } else { format!("{title}   ·   ") };
    let reading = &glance.shown.reading;
    if reading.sample_rate_hz <= 0.0 {
        return format!("{title}no audio yet");
    }
    let rate = words::frequency(reading.sample_rate_hz);
    format!("{title}{rate}   ·   {}", reading.halves.word())
}

/// Something that is switched on.
struct Badge {
    text: String,
    /// Whether the screen or the output is not what one would expect.
    warns: bool,
}

/// What is switched on, first what has to be seen at once.
fn badges(choices: &Choices, frozen: bool) -> Vec<Badge> {
    let warning = |text: String| Badge { text, warns: true };
    let mut badges = Vec::new();
    badges.extend(choices.bypass.then(|| warning("Bypassed".into())));
    badges.extend(frozen.then(|| warning("Frozen".into())));
    let listens = choices.listen != Listen::Off;
    badges.extend(listens.then(|| warning(format!("Output: {}", choices.listen.short()))));
    let feed = choices.sum_test.feed();
    let plays = if choices.feeds_play == FeedsPlay::Test { "" } else { ", loop" };
    badges.extend(feed.map(|_| warning(format!("Output: {}{plays}", choices.sum_test.word()))));
    let note = |text: &str| Badge { text: text.into(), warns: false };
    badges.extend((choices.sum_test == SumTest::Bus).then(|| note("On the bus")));
    badges.extend(choices.log.then(|| note("Log")));
    badges
}

/// Draws badges from `left` on, and returns where they end. Those that find no space are counted.
fn draw_badges(ui: &Ui, look: &Look, left: Pos2, right: f32, badges: &[Badge]) -> f32 {
    let (painter, palette) = (ui.painter(), look.palette);
    let layout = |text: String, warns: bool| {
        let colour = if warns { palette.caution } else { palette.quiet };
        painter.layout_no_wrap(text, look.words(0.94), colour)
    };
    let width = |galley: &Galley| galley.size().x + look.units(0.7);
    let gap = look.units(0.5);
    let mut x = left.x;
    for (index, badge) in badges.iter().enumerate() {
        let galley = layout(badge.text.clone(), badge.warns);
        let rest = &badges[index..];
        let rest_warns = rest.iter().any(|badge| badge.warns);
        let more = layout(format!("+{}", rest.len()), rest_warns);
        let is_last = rest.len() == 1;
        let reserved = if is_last { 0.0 } else { gap + width(&more) };
        if x + width(&galley) + reserved <= right {
            x = draw_badge(ui, look, pos2(x, left.y), galley, &badge.text, badge.warns) + gap;
        } else {
            let names: Vec<&str> = rest.iter().map(|badge| badge.text.as_str()).collect();
            let names = names.join(", ");
            return draw_badge(ui, look, pos2(x, left.y), more, &names, rest_warns) + gap;
        }
    }
    x
}

/// Draws a badge from `left` on and returns its right edge.
fn draw_badge(
    ui: &Ui,
    look: &Look,
    left: Pos2,
    galley: Arc<Galley>,
    text: &str,
    warns: bool,
) -> f32 {
    let (painter, palette) = (ui.painter(), look.palette);
    let size = galley.size() + vec2(look.units(0.7), look.units(0.25));
    let rect = Align2::LEFT_CENTER.anchor_size(left, size);
    let colour = if warns { palette.caution } else { palette.quiet };
    let stroke = Stroke::new(look.hairline(), colour);
    painter.rect(rect, look.units(0.25), palette.panel, stroke, StrokeKind::Inside);
    let at = Align2::CENTER_CENTER.anchor_size(rect.center(), galley.size());
    painter.galley(at.min, galley, colour);
    panel::describe(ui, rect, text, || text.to_owned()).on_hover_text(text);
    rect.right()
}
