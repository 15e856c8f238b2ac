//! The screen: a pure function from plain data to a picture. First the sentence, then the ledger
//! that backs it, the halves, the room and the spectrum. It computes no level and knows no host.

use egui::{Rect, Ui, Vec2, pos2, vec2};
use ledgerline_measure::reading::Reading;
use ledgerline_measure::settings::Edges;
use ledgerline_measure::verdict::Severity;

use super::header::{self, Switched};
use super::look::{LEAST_HEIGHT_UNITS, LEAST_WIDTH_UNITS, Look};
use super::sentence::{self, Said};
use super::{
    halves_scale, ledger, room_strip, settings_panel, spectrum_view, style, sum_test, switched_off,
};
use crate::choices::Choices;
use crate::handover::Snapshot;
use crate::params::switched_off::SwitchedOff;

/// The smallest window in which all text can still be read, in points.
pub const LEAST_SIZE: Vec2 = vec2(760.0, 560.0);
/// The size of a window that nobody has resized yet, in points.
pub const FIRST_SIZE: Vec2 = vec2(1100.0, 760.0);

/// Space around and between the parts, in units.
const MARGIN_UNITS: f32 = 0.6;
/// Height of the head, in units.
const HEADER_UNITS: f32 = 2.4;
/// Height of the sentence, in units.
const SENTENCE_UNITS: f32 = 10.4;
/// Height of the ledger, in units.
const LEDGER_UNITS: f32 = 22.2;
/// Width of the halves, and of the settings, in units.
const SIDE_UNITS: f32 = 18.4;

/// What the screen remembers from frame to frame, and what the editor tells it besides readings.
#[derive(Debug, Clone)]
pub struct ScreenState {
    /// Dark or light.
    pub dark: bool,
    /// The host's name for the track, or nothing.
    pub title: String,
    /// Messages that are no findings, such as a log that cannot be written. Each is shown as a
    /// caution.
    pub messages: Vec<String>,
    /// Whether the settings are open.
    pub settings_open: bool,
    /// The sum test as it stands.
    pub sum_test: sum_test::Told,
    /// What the view of the sum test remembers.
    pub sum_test_view: sum_test::ViewState,
    /// What loading a state has switched off, until the user answers.
    pub switched_off: Option<SwitchedOff>,
    /// The snapshot that is shown while the screen is frozen.
    pub frozen: Option<Box<Snapshot>>,
    dragged: settings_panel::Dragged,
    styled: Option<Look>,
}

impl ScreenState {
    /// A screen as it first opens.
    #[must_use]
    pub fn new(dark: bool) -> Self {
        Self {
            dark,
            title: String::new(),
            messages: Vec::new(),
            settings_open: false,
            sum_test: sum_test::Told::default(),
            sum_test_view: sum_test::ViewState::default(),
            switched_off: None,
            frozen: None,
            dragged: None,
            styled: None,
        }
    }
}

impl Default for ScreenState {
    fn default() -> Self {
        Self::new(true)
    }
}

/// What the user asked for that is neither a choice nor the screen's own business.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct ScreenResponse {
    /// Clear every reading.
    pub reset: bool,
    /// Save the record and the report of the sum test.
    pub save_sum_test: bool,
}

/// Draws the screen over the whole of `ui`.
pub fn show(
    ui: &mut Ui,
    snapshot: &Snapshot,
    choices: &mut Choices,
    state: &mut ScreenState,
) -> ScreenResponse {
    let window = ui.max_rect();
    let look = Look::new(window.size(), state.dark);
    if state.styled != Some(look) {
        style::apply(ui.ctx(), &look);
        ui.reset_style();
        state.styled = Some(look);
    }
    ui.painter().rect_filled(window, 0.0, look.palette.ground);
    state.sum_test_view.follow(choices.sum_test);
    let shown = state.frozen.as_deref().unwrap_or(snapshot);
    let places = Places::new(&look, window, state.settings_open);
    let on = Switched {
        frozen: state.frozen.is_some(),
        settings: state.settings_open,
        sum_test: state.sum_test_view.open,
        dark: state.dark,
    };
    let reading = &shown.reading;
    let asked = header::show(ui, &look, places.header, &state.title, reading, choices, on);
    let rest = switched_off::show(ui, &look, places.sentence, choices, &mut state.switched_off);
    sentence::show(ui, &look, rest, &said(reading, &state.messages));
    if state.sum_test_view.open {
        let below =
            Rect::from_min_max(places.ledger.min, window.shrink(look.units(MARGIN_UNITS)).max);
        let (told, view) = (&state.sum_test, &mut state.sum_test_view);
        let save_sum_test = sum_test::show(ui, &look, below, told, choices, view);
        return ScreenResponse { save_sum_test, ..answer(asked, snapshot, state) };
    }
    ledger::show(ui, &look, places.ledger, reading, choices.rms_reference);
    room_strip::show(ui, &look, places.room, reading);
    let edges = Edges { low_hz: choices.low_edge_hz, high_hz: choices.high_edge_hz };
    spectrum_view::show(ui, &look, places.spectrum, reading, &shown.spectrum, edges);
    if state.settings_open {
        settings_panel::show(ui, &look, places.side, choices, &mut state.dragged);
    } else {
        halves_scale::show(ui, &look, places.side, reading);
    }
    answer(asked, snapshot, state)
}

fn answer(asked: header::Asked, snapshot: &Snapshot, state: &mut ScreenState) -> ScreenResponse {
    if asked.settings {
        // One of them at a time.
        state.settings_open = !state.settings_open || state.sum_test_view.open;
        state.sum_test_view.open = false;
    }
    state.sum_test_view.open ^= asked.sum_test;
    state.dark ^= asked.theme;
    if asked.freeze {
        state.frozen = if state.frozen.is_some() { None } else { Some(Box::new(*snapshot)) };
    }
    if asked.reset {
        // A frozen screen would hide that the readings are gone.
        state.frozen = None;
    }
    ScreenResponse { reset: asked.reset, save_sum_test: false }
}

/// What is said: the findings, with the messages before all that is less than a caution.
fn said(reading: &Reading, messages: &[String]) -> Vec<Said> {
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

/// Where the parts lie.
struct Places {
    header: Rect,
    sentence: Rect,
    ledger: Rect,
    /// The halves, or the settings, which reach down to the foot.
    side: Rect,
    room: Rect,
    spectrum: Rect,
}

impl Places {
    fn new(look: &Look, window: Rect, settings_open: bool) -> Self {
        let gap = look.units(MARGIN_UNITS);
        let area = window.shrink(gap);
        // Height that the window has beyond the least goes to the ledger and to what is under it.
        let spare = (window.height() - look.units(LEAST_HEIGHT_UNITS)).max(0.0);
        let wide = (window.width() - look.units(LEAST_WIDTH_UNITS)).max(0.0);
        let row = |top: f32, height: f32| Rect::from_x_y_ranges(area.x_range(), top..=top + height);
        let header = row(area.top(), look.units(HEADER_UNITS));
        let sentence = row(header.bottom() + gap, look.units(SENTENCE_UNITS));
        let middle = row(sentence.bottom() + gap, look.units(LEDGER_UNITS) + spare * 0.3);
        let foot = Rect::from_min_max(pos2(area.left(), middle.bottom() + gap), area.max);
        let side_left = area.right() - look.units(SIDE_UNITS) - wide * 0.15;
        let left_right = if settings_open { side_left - gap } else { area.right() };
        let side_bottom = if settings_open { area.bottom() } else { middle.bottom() };
        let split =
            foot.left() + (left_right - foot.left()) * if settings_open { 0.49 } else { 0.48 };
        Self {
            header,
            sentence,
            ledger: Rect::from_min_max(middle.min, pos2(side_left - gap, middle.bottom())),
            side: Rect::from_min_max(
                pos2(side_left, middle.top()),
                pos2(area.right(), side_bottom),
            ),
            room: Rect::from_min_max(foot.min, pos2(split - gap / 2.0, foot.bottom())),
            spectrum: Rect::from_min_max(
                pos2(split + gap / 2.0, foot.top()),
                pos2(left_right, foot.bottom()),
            ),
        }
    }
}
