//! The fields in which the user types what the mixer's own meter showed. Tab and Enter lead from
//! step to step; what is no number is marked and left out.

use egui::{
    Align2, Frame, Id, Key, Margin, Rect, Stroke, TextEdit, Ui, UiBuilder, WidgetInfo, pos2, vec2,
};
use ledgerline_measure::sum_test::STEPS;
use ledgerline_measure::verdict::Severity;
use ledgerline_measure::words;

use crate::editor::look::Look;
use crate::editor::marks;
use crate::sum_test::entries::Entries;
use crate::typed;

/// Most characters that a field takes.
const MOST_CHARACTERS: usize = 12;
/// Size of the sign beside a bad entry, in units.
const SIGN_UNITS: f32 = 1.0;

/// What is in the fields, as it was typed.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Typed {
    texts: [String; STEPS.len()],
    /// What the texts say.
    entries: Entries,
    /// The field that is to be typed in next.
    next: Option<usize>,
}

impl Typed {
    /// Writes the fields anew where the entries were changed elsewhere, as by a saved state.
    pub fn follow(&mut self, entries: &Entries) {
        if self.entries.shown_db != entries.shown_db {
            self.texts = entries.shown_db.map(|db| db.map_or_else(String::new, written));
        }
        self.entries = *entries;
    }

    /// Empties every field.
    pub fn clear(&mut self, entries: &mut Entries) {
        *entries = entries.cleared();
        *self = Self { entries: *entries, ..Self::default() };
    }

    /// Whether anything is in a field.
    #[must_use]
    pub fn any(&self) -> bool {
        self.texts.iter().any(|text| !text.is_empty())
    }

    /// Numbers of the steps in whose fields something is that cannot be a reading.
    #[must_use]
    pub fn bad(&self) -> Vec<usize> {
        (0..STEPS.len()).filter(|index| self.is_bad(*index)).map(|i| STEPS[i].number).collect()
    }

    fn is_bad(&self, index: usize) -> bool {
        !self.texts[index].trim().is_empty() && read(&self.texts[index]).is_none()
    }

    /// Moves on after Enter. Only once every field has been drawn, or the next one would take the
    /// same Enter for its own.
    pub fn move_on(&mut self, ui: &Ui) {
        if let Some(index) = self.next.take() {
            ui.memory_mut(|memory| memory.request_focus(id(index)));
        }
    }
}

/// The field of the step of an index in [`STEPS`]; in `place` is room for it and for a sign.
pub fn show(
    ui: &mut Ui,
    look: &Look,
    place: Rect,
    index: usize,
    entries: &mut Entries,
    typed: &mut Typed,
) {
    let number = STEPS[index].number;
    let bad = typed.is_bad(index);
    let left = place.left() + look.units(SIGN_UNITS + 0.3);
    let field = Rect::from_min_max(pos2(left, place.top()), place.max);
    let text = &mut typed.texts[index];
    let before = text.clone();
    let mut inside = ui.new_child(UiBuilder::new().max_rect(field).id_salt(("field", index)));
    // Rows are lower than controls that stand alone.
    inside.spacing_mut().interact_size.y = 0.0;
    let response = inside.add(edit(look, text, field, id(index), edge(ui, look, index, bad)));
    let response = response.on_hover_text(format!(
        "What the mixer's own meter showed in step {number}, in dB on its own scale"
    ));
    response.widget_info(|| {
        let mut info = WidgetInfo::text_edit(true, &before, text.as_str(), "");
        let ignored = if bad { ": not a number, ignored" } else { "" };
        info.label = Some(format!("Shown in step {number}{ignored}"));
        info
    });
    if response.changed() {
        entries.shown_db[index] = read(text);
        typed.entries = *entries;
    }
    if response.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter)) {
        typed.next = (index + 1..STEPS.len()).find(|index| Entries::asked_for(*index));
    }
    if bad {
        let middle = pos2(place.left() + look.units(SIGN_UNITS * 0.55), place.center().y);
        let sign = Rect::from_center_size(middle, vec2(1.0, 1.0) * look.units(SIGN_UNITS));
        marks::severity(ui.painter(), look, sign, Severity::Caution);
    }
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
fn edge(ui: &Ui, look: &Look, index: usize, bad: bool) -> Stroke {
    let heavy = look.units(0.16).max(1.5);
    if ui.memory(|memory| memory.has_focus(id(index))) {
        Stroke::new(heavy, look.palette.text)
    } else if bad {
        Stroke::new(heavy, look.palette.caution)
    } else {
        Stroke::new(look.hairline(), look.palette.axis)
    }
}

fn id(index: usize) -> Id {
    Id::unique(("shown in step", STEPS[index].number))
}

/// A reading, if a text is one.
fn read(text: &str) -> Option<f64> {
    typed::decibels(text).filter(|db| Entries::possible(*db))
}

fn written(shown_db: f64) -> String {
    words::plain(shown_db)
}
