//! The head of the screen: which bus this is, how long it has been measured, what is switched on,
//! and the controls.

use egui::accesskit::Role;
use egui::{
    Align2, Button, Layout, Rect, RichText, Stroke, StrokeKind, Ui, UiBuilder, WidgetInfo, pos2,
    vec2,
};
use ledgerline_measure::reading::Reading;
use ledgerline_measure::words;

use super::look::Look;
use super::marks::fitted;
use super::panel;
use crate::choices::{Choices, Listen, SumTest};

/// What the controls of the head were asked for.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Asked {
    /// Clear every reading.
    pub reset: bool,
    /// Keep the readings on the screen as they are, or let them go on.
    pub freeze: bool,
    /// Begin another entry.
    pub mark: bool,
    /// Open or close the entries.
    pub entries: bool,
    /// Open or close the settings.
    pub settings: bool,
    /// Open or close the sum test.
    pub sum_test: bool,
    /// Change between dark and light.
    pub theme: bool,
}

/// What is switched on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Switched {
    /// The screen is frozen.
    pub frozen: bool,
    /// The entries are open.
    pub entries: bool,
    /// The settings are open.
    pub settings: bool,
    /// The sum test is open.
    pub sum_test: bool,
    /// The theme is dark.
    pub dark: bool,
}

/// Draws the head.
pub fn show(
    ui: &mut Ui,
    look: &Look,
    rect: Rect,
    title: &str,
    reading: &Reading,
    choices: &Choices,
    on: Switched,
) -> Asked {
    let (asked, controls) = controls(ui, look, rect, on);
    let painter = ui.painter();
    let y = rect.center().y;
    let name = painter.text(
        pos2(rect.left() + look.units(0.2), y),
        Align2::LEFT_CENTER,
        "Ledgerline",
        look.words(1.4),
        look.palette.text,
    );
    let mut left = name.right() + look.units(1.1);
    for badge in badges(choices, on) {
        left = draw_badge(ui, look, pos2(left, y), &badge) + look.units(0.6);
    }
    let text = measured(title, reading);
    let width = controls - look.units(1.0) - left;
    fitted(
        painter,
        pos2(left, y),
        Align2::LEFT_CENTER,
        width,
        &text,
        look.words(1.0),
        look.palette.quiet,
    );
    let place = Rect::from_x_y_ranges(left..=controls, rect.y_range());
    panel::describe(ui, place, "measured", || text.clone());
    asked
}

/// Which bus, how long, at which rate.
fn measured(title: &str, reading: &Reading) -> String {
    let title = if title.is_empty() { String::new() } else { format!("{title}   ·   ") };
    if reading.sample_rate_hz <= 0.0 {
        return format!("{title}no audio yet");
    }
    let (time, rate) =
        (words::moment(reading.time_s.floor(), 0), words::frequency(reading.sample_rate_hz));
    format!("{title}{time} measured   ·   {rate}   ·   {}", reading.halves.word())
}

/// What has to be seen at once, because the screen or the output is not what one would expect.
fn badges(choices: &Choices, on: Switched) -> Vec<String> {
    let mut badges = Vec::new();
    if choices.bypass {
        badges.push("Bypassed".to_owned());
    }
    if on.frozen {
        badges.push("Frozen".to_owned());
    }
    if choices.listen != Listen::Off {
        badges.push(format!("Output: {}", choices.listen.short()));
    }
    match choices.sum_test {
        SumTest::Off => {}
        SumTest::Bus => badges.push("On the bus".to_owned()),
        feed => badges.push(format!("Output: {}", feed.word())),
    }
    if choices.log {
        badges.push("Log".to_owned());
    }
    badges
}

/// Draws a badge from `left` on and returns its right edge.
fn draw_badge(ui: &Ui, look: &Look, left: egui::Pos2, text: &str) -> f32 {
    let (painter, palette) = (ui.painter(), look.palette);
    let galley = painter.layout_no_wrap(text.to_owned(), look.words(0.94), palette.caution);
    let size = galley.size() + vec2(look.units(0.9), look.units(0.25));
    let rect = Align2::LEFT_CENTER.anchor_size(left, size);
    let stroke = Stroke::new(look.hairline(), palette.caution);
    painter.rect(rect, look.units(0.25), palette.panel, stroke, StrokeKind::Inside);
    let at = Align2::CENTER_CENTER.anchor_size(rect.center(), galley.size());
    painter.galley(at.min, galley, palette.caution);
    panel::describe(ui, rect, text, || text.to_owned());
    rect.right()
}

/// The controls, from the right; and where they begin.
fn controls(ui: &mut Ui, look: &Look, rect: Rect, on: Switched) -> (Asked, f32) {
    let mut asked = Asked::default();
    let layout = Layout::right_to_left(egui::Align::Center);
    let mut row = ui.new_child(UiBuilder::new().max_rect(rect).layout(layout).id_salt("controls"));
    let mut control = |text: &str, pressed: bool, label: &str, tip: &str| {
        let button = Button::new(RichText::new(text).font(look.words(1.02)))
            .selected(pressed)
            .stroke(Stroke::new(look.hairline(), look.palette.axis))
            .min_size(vec2(look.units(3.4), look.units(1.9)));
        let response = row.add(button);
        response.widget_info(|| WidgetInfo::selected(Role::Button, true, pressed, label));
        panel::focus_ring(&row, look, &response);
        response.on_hover_text(tip).clicked()
    };
    let theme = if on.dark { "Light" } else { "Dark" };
    asked.theme = control(theme, false, "Change theme", "Change between dark and light");
    asked.settings = control("Settings", on.settings, "Settings", "Open or close the settings");
    asked.sum_test =
        control("Sum test", on.sum_test, "Sum test", "Open or close the test of a mixer's summing");
    asked.entries =
        control("Entries", on.entries, "Entries", "Open or close what changed, and when");
    asked.reset = control("Reset", false, "Reset", "Clear every reading and start afresh");
    let freeze = if on.frozen { "Go on" } else { "Freeze" };
    asked.freeze =
        control(freeze, on.frozen, "Freeze", "Keep the screen as it is; measuring goes on");
    asked.mark = control("Mark", false, "Mark", "Begin another entry here");
    (asked, row.min_rect().left())
}
