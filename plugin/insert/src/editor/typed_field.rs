//! A field in which a number is typed. What is no number is marked with a sign before the field.

use egui::{
    Align2, Frame, Id, Margin, Rect, Response, Stroke, TextEdit, Ui, UiBuilder, WidgetInfo, pos2,
    vec2,
};
use ledgerline_measure::verdict::Severity;

use super::look::Look;
use super::marks;

/// Most characters that a field takes.
const MOST_CHARACTERS: usize = 12;
/// Size of the sign beside a bad entry, in units.
const SIGN_UNITS: f32 = 1.0;

/// What a field is.
pub struct Field<'a> {
    /// By which it is found again.
    pub id: Id,
    /// What is typed in it, for whoever is read to.
    pub label: &'a str,
    /// The same at more length, for whoever points at it.
    pub hover: &'a str,
    /// Whether what stands in it is no number.
    pub bad: bool,
}

/// Draws a field; in `place` is room for it and for the sign. Changes the text that is typed.
pub fn show(ui: &mut Ui, look: &Look, place: Rect, field: &Field, text: &mut String) -> Response {
    let left = place.left() + look.units(SIGN_UNITS + 0.3);
    let rect = Rect::from_min_max(pos2(left, place.top()), place.max);
    let before = text.clone();
    let mut inside = ui.new_child(UiBuilder::new().max_rect(rect).id_salt(("field", field.id)));
    // Rows are lower than controls that stand alone.
    inside.spacing_mut().interact_size.y = 0.0;
    let response = inside.add(edit(look, text, rect, field.id, edge(ui, look, field)));
    let response = response.on_hover_text(field.hover);
    response.widget_info(|| {
        let mut info = WidgetInfo::text_edit(true, &before, text.as_str(), "");
        let ignored = if field.bad { ": not a number, ignored" } else { "" };
        info.label = Some(format!("{}{ignored}", field.label));
        info
    });
    if field.bad {
        let middle = pos2(place.left() + look.units(SIGN_UNITS * 0.55), place.center().y);
        let sign = Rect::from_center_size(middle, vec2(1.0, 1.0) * look.units(SIGN_UNITS));
        marks::severity(ui.painter(), look, sign, Severity::Caution);
    }
    response
}

fn edit<'a>(look: &Look, text: &'a mut String, field: Rect, id: Id, edge: Stroke) -> TextEdit<'a> {
    let side = look.units(0.35).min(100.0);
    let frame = Frame::new()
        .fill(look.palette.raised)
        .stroke(edge)
        .corner_radius(look.units(0.2))
        .inner_margin(Margin::symmetric(side as i8, 0));
    TextEdit::singleline(text)
        .id(id)
        .font(look.digits(0.94))
        .text_color(look.palette.text)
        .align(Align2::RIGHT_CENTER)
        .frame(frame)
        .min_size(field.size())
        .desired_width(field.width() - 2.0 * (side + edge.width))
        .char_limit(MOST_CHARACTERS)
}

/// The edge of a field: heavier where the keyboard is, and where an entry is bad.
fn edge(ui: &Ui, look: &Look, field: &Field) -> Stroke {
    let heavy = look.units(0.16).max(1.5);
    if ui.memory(|memory| memory.has_focus(field.id)) {
        Stroke::new(heavy, look.palette.text)
    } else if field.bad {
        Stroke::new(heavy, look.palette.caution)
    } else {
        Stroke::new(look.hairline(), look.palette.axis)
    }
}
