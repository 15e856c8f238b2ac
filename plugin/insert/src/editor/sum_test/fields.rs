//! The fields in which the user types what the mixer's own meter showed. Tab and Enter lead from
//! step to step; what is no number is marked and left out.

use egui::{Id, Key, Rect, Ui};
use ledgerline_measure::sum_test::STEPS;
use ledgerline_measure::words;

use crate::editor::look::Look;
use crate::editor::typed_field::{self, Field};
use crate::sum_test::entries::Entries;
use crate::typed;

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
        let text = &self.texts[index];
        self.entries.asks_for(index) && !text.trim().is_empty() && read(text).is_none()
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
    let field = Field {
        id: id(index),
        label: &format!("Shown in step {number}"),
        hover: &format!(
            "What the mixer's own meter showed in step {number}, in dB on its own scale"
        ),
        bad: typed.is_bad(index),
    };
    let text = &mut typed.texts[index];
    let response = typed_field::show(ui, look, place, &field, text);
    if response.changed() {
        entries.shown_db[index] = read(text);
        typed.entries = *entries;
    }
    if response.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter)) {
        typed.next = (index + 1..STEPS.len()).find(|index| entries.asks_for(*index));
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
