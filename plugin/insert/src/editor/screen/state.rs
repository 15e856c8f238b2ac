//! What the screen remembers.

use std::sync::Arc;

use egui::output::OutputEvent;
use ledgerline_measure::entries::OpenedBy;
use ledgerline_measure::words::moment;

use crate::choices::{Choices, SumTest};
use crate::editor::answer::Standing;
use crate::editor::glance::{Frozen, Given, Glance, Past};
use crate::editor::look::Look;
use crate::editor::{entries, settings_panel, sum_test, time};
use crate::entries::board;
use crate::handover::Snapshot;
use crate::params::switched_off::SwitchedOff;
use crate::params::window::{Drawer, Theme};

/// How long numbers stand, in seconds: they move no faster than they can be read.
const STANDS_S: f64 = 0.1;

/// What the screen remembers from frame to frame, and what the editor tells it besides readings.
#[derive(Debug, Clone)]
pub struct ScreenState {
    /// The colours.
    pub theme: Theme,
    /// The host's name for the track, or nothing.
    pub title: String,
    /// Messages that are no findings, such as a log that cannot be written. Each is shown as a
    /// caution.
    pub messages: Vec<String>,
    /// The drawer that is open.
    pub drawer: Option<Drawer>,
    /// What the time view remembers.
    pub time: time::ViewState,
    /// The entries as they stand.
    pub entries: board::Told,
    /// What the view of the entries remembers.
    pub entries_view: entries::ViewState,
    /// The sum test as it stands.
    pub sum_test: sum_test::Told,
    /// What the view of the sum test remembers.
    pub sum_test_view: sum_test::ViewState,
    /// What is being typed of what the user's own meter shows now.
    pub(super) your_meter_typed: String,
    /// What loading a state has switched off, until the user answers.
    pub switched_off: Option<SwitchedOff>,
    /// For how long a reset can still be taken back, in seconds, where there was one.
    pub undo_s: Option<f64>,
    /// What is shown while the screen is frozen.
    pub frozen: Option<Box<Frozen>>,
    /// The moment that is shown instead of now.
    pub past: Option<Past>,
    /// How many overs have been looked at.
    pub(super) overs_seen: u64,
    pub(super) standing: Standing,
    pub(super) dragged: settings_panel::Dragged,
    /// What has the keyboard, by its name.
    focused: String,
    /// What is shown now, and since when: numbers do not move faster than they can be read.
    pub(super) shown: Option<(Box<Snapshot>, f64)>,
    pub(super) styled: Option<Look>,
    /// What the instance did in the sum test when it was last looked at.
    sum_test_before: SumTest,
}

impl ScreenState {
    /// A screen as it first opens.
    #[must_use]
    pub fn new(theme: Theme) -> Self {
        Self {
            theme,
            title: String::new(),
            messages: Vec::new(),
            drawer: None,
            time: time::ViewState::default(),
            entries: board::Told::default(),
            entries_view: entries::ViewState::default(),
            sum_test: sum_test::Told::default(),
            sum_test_view: sum_test::ViewState::default(),
            your_meter_typed: String::new(),
            switched_off: None,
            undo_s: None,
            frozen: None,
            past: None,
            overs_seen: 0,
            standing: Standing::default(),
            dragged: None,
            focused: String::new(),
            shown: None,
            styled: None,
            sum_test_before: SumTest::Off,
        }
    }

    /// Opens the sum test when the instance begins to take part, from wherever that was chosen.
    pub(super) fn follow_sum_test(&mut self, role: SumTest) {
        if self.sum_test_before == SumTest::Off && role != SumTest::Off {
            self.drawer = Some(Drawer::SumTest);
        }
        self.sum_test_before = role;
    }

    /// The name of what has the keyboard, if anything has.
    pub(super) fn focused(&mut self, ctx: &egui::Context) -> Option<&str> {
        let gained = ctx.output(|output| {
            output.events.iter().rev().find_map(|event| match event {
                OutputEvent::FocusGained(info) => {
                    info.label.clone().or(info.current_text_value.clone())
                }
                _ => None,
            })
        });
        if let Some(name) = gained {
            self.focused = name;
        }
        let has = ctx.memory(|memory| memory.focused().is_some());
        has.then_some(self.focused.as_str()).filter(|name| !name.is_empty())
    }

    /// What is looked at. Numbers are taken anew ten times a second.
    pub(super) fn glance<'a>(
        &mut self,
        given: Given<'a>,
        choices: &Choices,
        clock_s: f64,
    ) -> Glance<'a> {
        let live = given.snapshot;
        let is_due = self.shown.as_ref().is_none_or(|(shown, since_s)| {
            let (one, other) = (&live.reading, &shown.reading);
            let is_other = one.time_s < other.time_s || one.sample_rate_hz != other.sample_rate_hz;
            clock_s - since_s >= STANDS_S || is_other
        });
        if is_due && let Some((shown, since_s)) = &mut self.shown {
            (**shown, *since_s) = (*live, clock_s);
        } else if is_due {
            self.shown = Some((Box::new(*live), clock_s));
        }
        let stands_still = self.past.is_some() || self.frozen.is_some();
        let shown = match (&self.past, &self.frozen, &self.shown) {
            (Some(past), ..) => *past.snapshot,
            (_, Some(frozen), _) => frozen.snapshot,
            (.., Some((shown, _))) => **shown,
            _ => *live,
        };
        let shown = shown.aimed_at(choices).unwrap_or(shown);
        if !stands_still {
            let overs = shown.reading.whole.bus.overs.unwrap_or(0);
            self.overs_seen = self.overs_seen.min(overs);
        }
        let frozen = self.frozen.as_ref().map(|frozen| frozen.columns.clone());
        let columns = frozen.as_deref().unwrap_or(&given.history.columns);
        let end_s = self.past.as_ref().map(|past| past.at_s);
        let end_s = end_s.or(columns.latest().map(|column| column.end_s));
        let begins_s = match &self.past {
            Some(Past { entry: Some(_), at_s, .. }) => *at_s,
            _ => (end_s.unwrap_or(0.0) - shown.reading.time_s).max(0.0),
        };
        let (entries, scope) = (self.entries.clone(), self.scope(&shown));
        Glance { shown, given, frozen, entries, scope, clock_s, begins_s, stands_still }
    }

    /// Keeps the screen as it is, or lets it go on.
    pub(super) fn freeze(&mut self, glance: &Glance) {
        self.frozen = match self.frozen.take() {
            Some(_) => None,
            None => Some(Box::new(Frozen {
                snapshot: glance.shown,
                columns: Arc::new(glance.columns().clone()),
            })),
        };
    }

    /// What the readings that are shown are of, in words.
    fn scope(&self, shown: &Snapshot) -> String {
        let reading = &shown.reading;
        match &self.past {
            Some(Past { entry: Some(entry), .. }) => format!("in entry {entry}"),
            Some(past) => format!("up to {}", moment(past.at_s.floor(), 0)),
            None => {
                let since = self.entries.ended.iter().chain(&self.entries.under_way);
                let reset = since.filter(|listed| listed.opened_by == OpenedBy::Reset).count();
                let word = if reset > 0 { "since reset" } else { "since the start" };
                format!("{word}, {}", moment(reading.time_s.floor(), 0))
            }
        }
    }

    /// Whether the sum test is drawn out.
    #[must_use]
    pub fn shows_sum_test(&self) -> bool {
        self.drawer == Some(Drawer::SumTest)
    }

    /// Opens a drawer, or closes it where it is open.
    pub(super) fn toggle(&mut self, drawer: Drawer) {
        self.drawer = Some(drawer).filter(|_| self.drawer != Some(drawer));
    }
}

impl Default for ScreenState {
    fn default() -> Self {
        Self::new(Theme::default())
    }
}
