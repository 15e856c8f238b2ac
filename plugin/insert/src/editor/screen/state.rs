//! What the screen remembers.

use crate::editor::look::Look;
use crate::editor::{entries, settings_panel, sum_test};
use crate::entries::board;
use crate::handover::Snapshot;
use crate::params::switched_off::SwitchedOff;

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
    /// The entries as they stand.
    pub entries: board::Told,
    /// What the view of the entries remembers.
    pub entries_view: entries::ViewState,
    /// The sum test as it stands.
    pub sum_test: sum_test::Told,
    /// What the view of the sum test remembers.
    pub sum_test_view: sum_test::ViewState,
    /// What loading a state has switched off, until the user answers.
    pub switched_off: Option<SwitchedOff>,
    /// The snapshot that is shown while the screen is frozen.
    pub frozen: Option<Box<Snapshot>>,
    pub(super) dragged: settings_panel::Dragged,
    pub(super) styled: Option<Look>,
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
            entries: board::Told::default(),
            entries_view: entries::ViewState::default(),
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
