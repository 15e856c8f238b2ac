//! The sentence: the most important finding, large enough to be read from the chair, and the
//! further findings under it.

use egui::accesskit::Role;
use egui::{Align2, Painter, Popup, Rect, RichText, Ui, WidgetInfo, pos2, vec2};
use ledgerline_measure::Reading;
use ledgerline_measure::verdict::Severity;

use super::look::Look;
use super::marks::{self, severity_colour};

/// Sizes that the headline may take, in units: the largest that fits.
const HEADLINE_UNITS: [f32; 7] = [2.1, 1.95, 1.8, 1.65, 1.5, 1.35, 1.2];
/// How many of these sizes are large enough to be read from the chair.
const LARGE_SIZES: usize = 4;
/// Width of the column of severities, in units.
const GUTTER_UNITS: f32 = 5.4;
/// Share of the height that the headline may take where there are further findings.
const MOST_HEADLINE: f32 = 0.68;
/// Size of a further finding, in units.
const FURTHER_UNITS: f32 = 1.04;

/// Something to say, and how much it matters.
#[derive(Debug, Clone, PartialEq)]
pub struct Said {
    /// How much it matters.
    pub severity: Severity,
    /// The sentence.
    pub sentence: String,
}

/// What is said: the findings, with the messages before all that is less than a caution.
#[must_use]
pub fn said(reading: &Reading, messages: &[String]) -> Vec<Said> {
    let findings = reading.findings.as_slice().iter();
    let mut said: Vec<_> =
        findings.map(|f| Said { severity: f.severity, sentence: f.sentence() }).collect();
    if said.is_empty() {
        let sentence = if reading.sample_rate_hz > 0.0 {
            "No signal yet."
        } else {
            "Nothing is measured yet: waiting for audio."
        };
        said.push(Said { severity: Severity::Note, sentence: sentence.into() });
    }
    let place = said.iter().position(|s| s.severity < Severity::Caution).unwrap_or(said.len());
    let messages =
        messages.iter().map(|m| Said { severity: Severity::Caution, sentence: m.clone() });
    said.splice(place..place, messages);
    said
}

/// Draws the sentences, most important first. There is at least one.
pub fn show(ui: &mut Ui, look: &Look, rect: Rect, said: &[Said]) {
    let Some((first, further)) = said.split_first() else {
        return;
    };
    let colour = severity_colour(look.palette, first.severity);
    ui.painter().rect_filled(rect, look.units(0.3), look.palette.panel);
    let stripe = Rect::from_min_size(rect.min, vec2(look.units(0.45), rect.height()));
    ui.painter().rect_filled(stripe, look.units(0.2), colour);
    let inner = rect.shrink2(vec2(look.units(1.1), look.units(0.55)));
    let gutter =
        Rect::from_min_size(inner.min, vec2(look.units(GUTTER_UNITS - 1.4), inner.height()));
    let words =
        Rect::from_min_max(pos2(inner.left() + look.units(GUTTER_UNITS), inner.top()), inner.max);
    let bottom = headline(ui, look, words, first, further.is_empty());
    sign(ui, look, gutter, first, further.is_empty());
    let rest = Rect::from_min_max(pos2(words.left(), bottom + look.units(0.35)), words.max);
    let shown = list(ui, look, rest, further);
    if shown < further.len() {
        more(ui, look, gutter, further.len() - shown, said);
    }
}

/// Draws the headline and returns where it ends. Alone, it stands in the middle.
fn headline(ui: &Ui, look: &Look, rect: Rect, said: &Said, alone: bool) -> f32 {
    let painter = ui.painter();
    let height = rect.height() * if alone { 1.0 } else { MOST_HEADLINE };
    let layout = |size: &f32| {
        painter.layout(said.sentence.clone(), look.words(*size), look.palette.text, rect.width())
    };
    // A size smaller, where that saves a line with a lost word in it.
    let (large, small) = HEADLINE_UNITS.split_at(LARGE_SIZES);
    let large: Vec<_> =
        large.iter().map(layout).filter(|galley| galley.size().y <= height).collect();
    let fewest = large.iter().map(|galley| galley.rows.len()).min();
    let galley = large.into_iter().find(|galley| Some(galley.rows.len()) == fewest);
    let galley =
        galley.or_else(|| small.iter().map(layout).find(|galley| galley.size().y <= height));
    // A sentence too long for the smallest size is cut off at its end rather than drawn over what
    // follows; the screen reader gets it whole.
    let galley = galley.unwrap_or_else(|| cut(painter, look, &said.sentence, rect.width(), height));
    let size = galley.size();
    let top = if alone { rect.center().y - size.y / 2.0 } else { rect.top() };
    painter.galley(pos2(rect.left(), top), galley, look.palette.text);
    let place = Rect::from_min_size(pos2(rect.left(), top), size);
    let words = || format!("{}: {}", said.severity.word(), said.sentence);
    super::panel::describe(ui, place, "sentence", words);
    top + size.y
}

/// Sign and word of the severity.
fn sign(ui: &Ui, look: &Look, gutter: Rect, said: &Said, alone: bool) {
    let middle =
        if alone { gutter.center().y - look.units(0.7) } else { gutter.top() + look.units(1.6) };
    let at = pos2(gutter.center().x, middle);
    let place = Rect::from_center_size(at, vec2(1.0, 1.0) * look.units(2.9));
    marks::severity(ui.painter(), look, place, said.severity);
    let at = pos2(at.x, place.bottom() + look.units(0.75));
    let colour = severity_colour(look.palette, said.severity);
    ui.painter().text(at, Align2::CENTER_CENTER, said.severity.word(), look.words(1.04), colour);
}

/// The sentence in the smallest size, in as many lines as there is height for.
fn cut(
    painter: &Painter,
    look: &Look,
    sentence: &str,
    width: f32,
    height: f32,
) -> std::sync::Arc<egui::Galley> {
    let size = HEADLINE_UNITS[HEADLINE_UNITS.len() - 1];
    let colour = look.palette.text;
    let mut job =
        egui::text::LayoutJob::simple(sentence.to_owned(), look.words(size), colour, width);
    job.wrap.max_rows = (height / look.units(size * 1.25)).floor().max(1.0) as usize;
    painter.layout_job(job)
}

/// Draws the further findings that there is space for, and returns how many.
fn list(ui: &Ui, look: &Look, rect: Rect, further: &[Said]) -> usize {
    let mut top = rect.top();
    for (index, said) in further.iter().enumerate() {
        let font = look.words(FURTHER_UNITS);
        let left = rect.left() + look.units(1.75);
        let galley = ui.painter().layout(
            said.sentence.clone(),
            font,
            look.palette.text,
            rect.right() - left,
        );
        let place =
            Rect::from_min_max(pos2(rect.left(), top), pos2(rect.right(), top + galley.size().y));
        if place.bottom() > rect.bottom() + look.units(0.15) {
            return index;
        }
        let middle = pos2(rect.left() + look.units(0.6), top + look.units(FURTHER_UNITS) * 0.6);
        marks::severity(
            ui.painter(),
            look,
            Rect::from_center_size(middle, vec2(1.0, 1.0) * look.units(1.12)),
            said.severity,
        );
        ui.painter().galley(pos2(left, top), galley, look.palette.text);
        let words = || format!("{}: {}", said.severity.word(), said.sentence);
        super::panel::describe(ui, place, &format!("finding {index}"), words);
        top = place.bottom() + look.units(0.2);
    }
    further.len()
}

/// The control that opens the list of all findings.
fn more(ui: &mut Ui, look: &Look, gutter: Rect, left_out: usize, all: &[Said]) {
    let size = vec2(gutter.width() + look.units(0.4), look.units(1.7));
    let place =
        Rect::from_min_size(pos2(gutter.left() - look.units(0.2), gutter.bottom() - size.y), size);
    let button =
        egui::Button::new(RichText::new(format!("{left_out} more")).font(look.words(0.94)));
    let response = ui.put(place, button.min_size(size));
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, "All findings"));
    Popup::from_toggle_button_response(&response).width(look.units(52.0)).show(|ui| {
        all.iter().enumerate().for_each(|(index, said)| entry(ui, look, index, said));
    });
}

/// A finding in the list of all.
fn entry(ui: &mut Ui, look: &Look, index: usize, said: &Said) {
    let width = look.units(48.0);
    let galley =
        ui.painter().layout(said.sentence.clone(), look.words(1.04), look.palette.text, width);
    let size = vec2(look.units(51.5), galley.size().y + look.units(0.5));
    let rect = ui.allocate_space(size).1;
    let sign = Rect::from_min_size(
        rect.min + vec2(look.units(0.4), 0.0),
        vec2(1.0, 1.0) * look.units(1.3),
    );
    marks::severity(ui.painter(), look, sign, said.severity);
    ui.painter().galley(rect.min + vec2(look.units(2.6), 0.0), galley, look.palette.text);
    let words = format!("{}: {}", said.severity.word(), said.sentence);
    super::panel::describe(ui, rect, &format!("entry {index}"), || words.clone());
}
