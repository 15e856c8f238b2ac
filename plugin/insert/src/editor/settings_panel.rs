//! The settings: every choice there is.

use egui::accesskit::Role;
use egui::{
    Button, Rect, RichText, ScrollArea, Slider, SliderClamping, Ui, UiBuilder, WidgetInfo, vec2,
};
use ledgerline_measure::settings::{LOWER_EDGE_RANGE_HZ, UPPER_EDGE_RANGE_HZ};
use ledgerline_measure::{ClipAt, Halves, RmsReference, RmsWindow, TruePeakFilter, words};

use super::look::Look;
use super::panel;
use crate::choices::{Aim, CEILING_RANGE_DB, Choices, Listen, PEAK_WINDOW_RANGE_S, TARGET_RANGE};
use crate::typed;

/// Width of the names, in units.
const NAME_UNITS: f32 = 5.9;
/// Height of a control, in units.
const CONTROL_UNITS: f32 = 1.8;

/// Edges that are being dragged. They are chosen when they are let go: each change of an edge
/// starts the readings afresh.
pub type Dragged = Option<[f64; 2]>;

/// Draws the settings in columns, and changes what the user changes.
pub fn show(ui: &mut Ui, look: &Look, rect: Rect, choices: &mut Choices, dragged: &mut Dragged) {
    let content = panel::show(ui, look, rect, "Settings", "");
    let gap = look.units(1.4);
    let width = (content.width() - 2.0 * gap) / 3.0;
    let mut column = |index: usize, name: &str, show: &mut dyn FnMut(&mut Ui)| {
        let left = content.left() + (width + gap) * index as f32;
        let place = Rect::from_x_y_ranges(left..=left + width, content.y_range());
        let mut inside = ui.new_child(UiBuilder::new().max_rect(place).id_salt(index));
        inside.set_clip_rect(content.intersect(inside.clip_rect()));
        let area = ScrollArea::vertical().id_salt(index).auto_shrink(false);
        area.show(&mut inside, |ui| {
            heading(ui, look, name);
            show(ui);
        });
    };
    column(0, "What readings are held against", &mut |ui| reading(ui, look, choices));
    column(1, "Measuring (a change starts afresh)", &mut |ui| {
        measuring(ui, look, choices, dragged);
    });
    column(2, "Output and log", &mut |ui| output(ui, look, choices));
}

/// Settings that only shape how readings are shown.
fn reading(ui: &mut Ui, look: &Look, choices: &mut Choices) {
    let kinds = [Aim::None, Aim::Loudness, Aim::Rms, Aim::Peak];
    let kinds = kinds.map(|kind| (kind, kind.short()));
    one_of(ui, look, "Target", &kinds, &mut choices.target_kind);
    let unit = choices.target_kind.unit();
    slider(
        ui,
        look,
        "Target level",
        &mut choices.target_value,
        &Scale { range: TARGET_RANGE, unit, decimals: 1, logarithmic: false },
    );
    slider(
        ui,
        look,
        "Ceiling",
        &mut choices.ceiling_db,
        &Scale { range: CEILING_RANGE_DB, unit: "dB", decimals: 1, logarithmic: false },
    );
    let windows = [RmsWindow::Short, RmsWindow::Medium, RmsWindow::Long, RmsWindow::SinceReset];
    let windows = windows.map(|window| (window, window.short()));
    one_of(ui, look, "RMS window", &windows, &mut choices.rms_window);
    let references = [RmsReference::FullScaleSquare, RmsReference::FullScaleSine];
    let references = references.map(|reference| (reference, reference.short()));
    one_of(ui, look, "RMS reference", &references, &mut choices.rms_reference);
    slider(
        ui,
        look,
        "Peak hold",
        &mut choices.peak_window_s,
        &Scale { range: PEAK_WINDOW_RANGE_S, unit: "s", decimals: 1, logarithmic: true },
    );
}

/// Settings that shape how samples are measured.
fn measuring(ui: &mut Ui, look: &Look, choices: &mut Choices, dragged: &mut Dragged) {
    let chosen = [choices.low_edge_hz, choices.high_edge_hz];
    let mut edges_hz = dragged.unwrap_or(chosen);
    let low = slider(
        ui,
        look,
        "Lower edge",
        &mut edges_hz[0],
        &Scale { range: LOWER_EDGE_RANGE_HZ, unit: "Hz", decimals: 0, logarithmic: true },
    );
    let high = slider(
        ui,
        look,
        "Upper edge",
        &mut edges_hz[1],
        &Scale { range: UPPER_EDGE_RANGE_HZ, unit: "Hz", decimals: 0, logarithmic: true },
    );
    *dragged = if low || high { Some(edges_hz) } else { None };
    if dragged.is_none() {
        [choices.low_edge_hz, choices.high_edge_hz] = edges_hz;
    }
    let halves = [Halves::LeftRight, Halves::MainSidechain];
    let halves = halves.map(|halves| (halves, halves.short()));
    one_of(ui, look, "Halves", &halves, &mut choices.halves);
    let filters = [TruePeakFilter::Interpolated, TruePeakFilter::Bs1770];
    let filters = filters.map(|filter| (filter, filter.short()));
    one_of(ui, look, "True peak", &filters, &mut choices.true_peak);
    let limits = [ClipAt::FullScale, ClipAt::Ceiling].map(|limit| (limit, limit.word()));
    one_of(ui, look, "Clipping", &limits, &mut choices.clip_at);
}

/// Settings that change what comes out.
fn output(ui: &mut Ui, look: &Look, choices: &mut Choices) {
    // Side by side, four do not fit into a narrow column.
    for (label, listen) in
        [("Listen", [Listen::Off, Listen::Audible]), ("or to", [Listen::Hidden, Listen::Damage])]
    {
        let listen = listen.map(|listen| (listen, listen.short()));
        one_of(ui, look, label, &listen, &mut choices.listen);
    }
    let caution = "Listening replaces the output. Turn the monitors down first.";
    ui.label(RichText::new(caution).font(look.words(0.84)).color(look.palette.quiet));
    one_of(ui, look, "Log", &[(false, "off"), (true, "on")], &mut choices.log);
    one_of(ui, look, "Bypass", &[(false, "off"), (true, "on")], &mut choices.bypass);
}

fn heading(ui: &mut Ui, look: &Look, text: &str) {
    ui.label(RichText::new(text).font(look.words(1.0)).color(look.palette.quiet));
}

/// A row: what is chosen at the left, its control at the right.
pub(super) fn row<R>(
    ui: &mut Ui,
    look: &Look,
    label: &str,
    control: impl FnOnce(&mut Ui) -> R,
) -> R {
    ui.horizontal(|ui| {
        let size = vec2(look.units(NAME_UNITS), look.units(CONTROL_UNITS));
        let text = RichText::new(label).font(look.words(0.94));
        let name = ui.allocate_ui_with_layout(
            size,
            egui::Layout::left_to_right(egui::Align::Center),
            |ui| {
                ui.set_min_size(size);
                ui.label(text)
            },
        );
        ui.label_inputs_by(name.inner.id, control)
    })
    .inner
}

/// A choice of one among a few, side by side. What is chosen has a heavier edge besides its colour.
pub fn one_of<T: PartialEq + Copy>(
    ui: &mut Ui,
    look: &Look,
    label: &str,
    options: &[(T, &str)],
    chosen: &mut T,
) {
    row(ui, look, label, |ui| {
        let gap = look.units(0.25);
        ui.spacing_mut().item_spacing.x = gap;
        ui.spacing_mut().button_padding.x = look.units(0.1);
        // Each as wide as its words ask for: a character's share of the row.
        let characters: usize = options.iter().map(|(_, text)| text.chars().count() + 2).sum();
        let free = ui.available_width() - gap * (options.len() - 1) as f32;
        for (value, text) in options {
            let width = free * (text.chars().count() + 2) as f32 / characters as f32;
            let on = *chosen == *value;
            let (edge, width_of_edge) = if on {
                (look.palette.text, look.units(0.14).max(1.5))
            } else {
                (look.palette.axis, look.hairline())
            };
            let size = vec2(width, look.units(CONTROL_UNITS));
            let button = Button::new(RichText::new(*text).font(look.words(0.84)))
                .selected(on)
                .stroke(egui::Stroke::new(width_of_edge, edge))
                .min_size(size);
            let response = ui.add_sized(size, button);
            response.widget_info(|| {
                WidgetInfo::selected(Role::RadioButton, true, on, format!("{label}: {text}"))
            });
            panel::focus_ring(ui, look, &response);
            if response.clicked() {
                *chosen = *value;
            }
        }
    });
}

/// A button as wide as there is space, with what it does written on it. Returns whether it was
/// pressed.
pub fn press(ui: &mut Ui, look: &Look, text: &str) -> bool {
    let size = vec2(ui.available_width(), look.units(CONTROL_UNITS));
    let button = Button::new(RichText::new(text).font(look.words(0.94)))
        .stroke(egui::Stroke::new(look.hairline(), look.palette.axis))
        .min_size(size);
    let response = ui.add_sized(size, button);
    panel::focus_ring(ui, look, &response);
    response.clicked()
}

/// How a value is chosen on a slider.
pub struct Scale {
    /// What it may be.
    pub range: (f64, f64),
    /// Its unit.
    pub unit: &'static str,
    /// Digits after the point.
    pub decimals: usize,
    /// Whether it moves evenly in octaves.
    pub logarithmic: bool,
}

/// A value on a slider, with its number to type. Returns whether it is being dragged.
pub fn slider(ui: &mut Ui, look: &Look, label: &str, value: &mut f64, scale: &Scale) -> bool {
    let decimals = scale.decimals;
    let slider = Slider::new(value, scale.range.0..=scale.range.1)
        .suffix(format!(" {}", scale.unit))
        .fixed_decimals(decimals)
        .logarithmic(scale.logarithmic)
        .clamping(SliderClamping::Always)
        .update_while_editing(false)
        .custom_formatter(move |value, _| words::fixed(value, decimals))
        .custom_parser(|text| typed::in_unit(text, scale.unit));
    row(ui, look, label, |ui| {
        ui.spacing_mut().slider_width = ui.available_width() - look.units(6.4);
        ui.add(slider)
    })
    .dragged()
}
