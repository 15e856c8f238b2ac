//! The looks of the toolkit's own widgets (buttons, sliders, popups), from our unit and colours.

use egui::style::{TextCursorStyle, WidgetVisuals, Widgets};
use egui::{Color32, Context, CornerRadius, Margin, Stroke, Style, TextStyle, Visuals, vec2};

use super::look::Look;
use super::palette::tint;

/// Sets the style of everything that opens over the screen (lists, tips), and of the screen itself.
pub fn apply(ctx: &Context, look: &Look) {
    ctx.all_styles_mut(|style| shape(style, look));
}

fn shape(style: &mut Style, look: &Look) {
    let u = look.unit;
    let words = |size: f32| look.words(size);
    style.text_styles = [
        (TextStyle::Heading, words(1.1)),
        (TextStyle::Body, words(1.0)),
        (TextStyle::Button, words(0.98)),
        (TextStyle::Small, words(0.84)),
        (TextStyle::Monospace, look.digits(1.0)),
    ]
    .into();
    let spacing = &mut style.spacing;
    spacing.item_spacing = vec2(0.4 * u, 0.3 * u);
    spacing.button_padding = vec2(0.5 * u, 0.15 * u);
    spacing.interact_size = vec2(2.6 * u, 1.5 * u);
    spacing.slider_width = 9.2 * u;
    spacing.slider_rail_height = 0.3 * u;
    spacing.icon_width = 1.1 * u;
    spacing.icon_width_inner = 0.65 * u;
    spacing.icon_spacing = 0.4 * u;
    spacing.tooltip_width = 26.0 * u;
    let margin = Margin::same(u.min(120.0) as i8);
    spacing.window_margin = margin;
    spacing.menu_margin = margin;
    style.visuals = visuals(look);
}

fn visuals(look: &Look) -> Visuals {
    let palette = look.palette;
    let dark = palette != &super::palette::LIGHT;
    let base = if dark { Visuals::dark() } else { Visuals::light() };
    let radius = CornerRadius::same((look.unit * 0.25).clamp(1.0, 60.0) as u8);
    Visuals {
        widgets: widgets(look, radius),
        selection: egui::style::Selection {
            bg_fill: palette.pressed,
            stroke: Stroke::new(look.hairline(), palette.text),
        },
        override_text_color: Some(palette.text),
        weak_text_color: Some(palette.quiet),
        extreme_bg_color: palette.ground,
        faint_bg_color: palette.raised,
        window_fill: palette.raised,
        window_stroke: Stroke::new(look.hairline(), palette.axis),
        panel_fill: palette.ground,
        window_corner_radius: radius,
        menu_corner_radius: radius,
        slider_trailing_fill: true,
        text_cursor: TextCursorStyle { blink: false, ..base.text_cursor.clone() },
        ..base
    }
}

fn widgets(look: &Look, radius: CornerRadius) -> Widgets {
    let palette = look.palette;
    let widget = |fill: Color32, edge: Color32, width: f32| WidgetVisuals {
        bg_fill: fill,
        weak_bg_fill: fill,
        bg_stroke: Stroke::new(width, edge),
        corner_radius: radius,
        fg_stroke: Stroke::new(look.hairline(), palette.text),
        expansion: 0.0,
    };
    let (thin, thick) = (look.hairline(), look.units(0.15).max(1.5));
    Widgets {
        noninteractive: widget(palette.panel, palette.rule, thin),
        inactive: widget(palette.raised, palette.axis, thin),
        hovered: widget(tint(palette.pressed, 0.8), palette.text, thin),
        active: widget(palette.pressed, palette.text, thick),
        open: widget(palette.pressed, palette.text, thin),
    }
}
