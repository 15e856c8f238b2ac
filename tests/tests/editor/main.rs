//! The editor's screen without a host: what is laid out, what its controls do, how long a frame
//! takes, and how it looks.

mod colours;
mod controls;
mod entries;
mod fixtures;
// A figure of the release build.
#[cfg(not(debug_assertions))]
mod frame_time;
mod glance;
mod layout;
mod pictures;
#[path = "../../../xtask/src/picture/raster.rs"]
mod raster;
mod software;
mod sum_test;
mod vocabulary;
#[cfg(target_os = "linux")]
mod window;

use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use ledgerline::choices::{Aim, Choices};
use ledgerline::editor::screen::{self, Given, ScreenResponse, ScreenState};
use ledgerline::params::window::Theme;
use ledgerline_tests::watched::Watched;

/// A screen and everything it is shown with.
struct Scene {
    watched: Watched,
    choices: Choices,
    state: ScreenState,
    /// Whether the reset was asked for, and taking it back.
    reset: bool,
    undo: bool,
    /// How often a mark was asked for.
    marks: usize,
    /// How often saving the sum test was asked for.
    saves: usize,
}

impl Scene {
    /// What the plugin has heard of a fixture.
    fn of(name: &str, theme: Theme) -> Self {
        let mut scene = Self::new(fixtures::fixture(name), theme);
        if name == "yours" {
            scene.choices.meter_detector = Some(fixtures::YOURS);
        }
        scene
    }

    fn new(watched: Watched, theme: Theme) -> Self {
        let mut state = ScreenState::new(theme);
        state.entries = watched.entries.clone();
        Self {
            watched,
            choices: Choices::default(),
            state,
            reset: false,
            undo: false,
            marks: 0,
            saves: 0,
        }
    }

    /// The same with a target.
    fn aiming(mut self) -> Self {
        self.choices.target_kind = Aim::Loudness;
        self
    }

    /// Shows the scene in the whole window; the test harness would leave a margin around it.
    fn show_in_window(&mut self, ui: &mut egui::Ui) {
        let window = ui.ctx().content_rect();
        let mut whole = ui.new_child(egui::UiBuilder::new().max_rect(window));
        whole.set_clip_rect(window);
        self.show(&mut whole);
    }

    fn show(&mut self, ui: &mut egui::Ui) {
        let given = Given { snapshot: &self.watched.snapshot, history: &self.watched.history };
        let ScreenResponse { reset, undo_reset, mark, save_sum_test } =
            screen::show(ui, given, &mut self.choices, &mut self.state);
        self.reset |= reset;
        self.undo |= undo_reset;
        self.marks += usize::from(mark);
        self.saves += usize::from(save_sum_test);
    }
}

/// A scene in a window of the size that nobody has changed yet.
fn harness(scene: Scene) -> Harness<'static, Scene> {
    Harness::builder()
        .with_size(screen::FIRST_SIZE)
        .build_ui_state(|ui, scene: &mut Scene| scene.show_in_window(ui), scene)
}

fn click(harness: &mut Harness<'_, Scene>, label: &str) {
    harness.get_by_label(label).click();
    harness.run();
}
