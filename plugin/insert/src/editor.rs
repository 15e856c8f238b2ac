//! The editor's window: opens the screen in a host, gives it the latest snapshot each frame, and
//! turns what the user changes into gestures that the host can follow. It computes no level.

mod account;
mod answer;
pub mod entries;
mod glance;
mod halves;
pub mod handle;
mod keys;
mod ledger;
mod look;
mod marks;
mod numbers;
mod palette;
mod panel;
pub mod screen;
mod settings_panel;
mod share_bar;
mod spectrum_view;
mod style;
pub mod sum_test;
mod switched_off;
pub mod time;
mod typed_field;
#[cfg(target_os = "linux")]
mod x11;
mod your_meter;

use std::error::Error;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use nice_plug::context::gui::GuiContext;
use nice_plug::editor::dpi::{LogicalSize, NativeSize};
use nice_plug::editor::{EditorHandle, HostMethods, SpawnedEditor};
use nice_plug::prelude::{Editor, ParentWindowHandle, ResizeHint, TrackInfo};
use nice_plug_egui::baseview::{HandlerError, WindowSize};
use nice_plug_egui::{
    EguiEditorState, EguiNiceSettings, Frame, NiceEguiApp, RepaintNotifier, create_egui_editor,
};

use crate::boards::Boards;
use crate::choices::Choices;
use crate::gestures::{Change, Outbox};
use crate::handover::{Button, Buttons, Subscriber, UNDO_S};
use crate::host_link::HostLink;
use crate::params::LedgerlineParams;
use crate::params::switched_off::SwitchedOff;
use crate::status::Status;
use crate::sum_test::desk::{Desk, Question};
use handle::LedgerlineHandle;
use keys::Keys;
use screen::{Given, LEAST_SIZE, ScreenState};

/// Time between two frames when nothing but the readings moves.
const FRAME: Duration = Duration::from_millis(33);

/// Time between two looks whether a frame was asked for from outside a frame, as when the host gives
/// the track another name.
const POLL: Duration = Duration::from_millis(250);

/// The sample rate that the sum test is taken to have as long as no audio runs, in Hz.
const USUAL_RATE_HZ: u32 = 48_000;

/// The editor as the framework sees it. The window comes and goes; what the screen remembers stays.
pub struct LedgerlineEditor {
    session: Arc<Mutex<Session>>,
    params: Arc<LedgerlineParams>,
    link: Arc<HostLink>,
    repaint: RepaintNotifier,
}

/// What outlives the window.
struct Session {
    params: Arc<LedgerlineParams>,
    status: Arc<Status>,
    buttons: Arc<Buttons>,
    subscriber: Subscriber,
    boards: Arc<Boards>,
    desk: Desk,
    screen: ScreenState,
    /// The latest reset, while it can be undone.
    reset: Option<Reset>,
    /// Physical pixels in a logical point, as a window has found out.
    scale: Option<f64>,
}

/// A reset that was asked for here.
struct Reset {
    at: Instant,
    /// How often there had been a reset by then, this one included, and how often readings had begun
    /// afresh otherwise.
    beginnings: [u32; 2],
}

impl LedgerlineEditor {
    /// The editor of one instance.
    #[must_use]
    pub fn new(
        params: Arc<LedgerlineParams>,
        status: Arc<Status>,
        buttons: Arc<Buttons>,
        subscriber: Subscriber,
        boards: Arc<Boards>,
        desk: Desk,
        link: Arc<HostLink>,
    ) -> Self {
        let session = Session {
            params: params.clone(),
            status,
            buttons,
            subscriber,
            boards,
            desk,
            screen: ScreenState::default(),
            reset: None,
            scale: None,
        };
        let session = Arc::new(Mutex::new(session));
        Self { session, params, link, repaint: RepaintNotifier::new() }
    }

    fn first_size(&self) -> LogicalSize<f32> {
        let look = self.params.window.look();
        LogicalSize { width: look.width_points, height: look.height_points }
    }
}

impl Editor for LedgerlineEditor {
    type Handle = LedgerlineHandle;

    fn spawn(
        &self,
        parent: Option<ParentWindowHandle>,
        wait_for_parent: bool,
        fallback_scale_factor: Option<f64>,
        gui: GuiContext,
        host: Option<HostMethods>,
    ) -> Result<SpawnedEditor<LedgerlineHandle>, Box<dyn Error>> {
        lock(&self.session).recall_look();
        let settings = EguiNiceSettings {
            title: "Ledgerline".into(),
            resize_hint: self.resize_hint(),
            repaint_poll_interval: POLL,
            ..EguiNiceSettings::default()
        };
        // Made anew for each window, because the framework keeps no size from outside.
        let editor = create_egui_editor(
            EguiEditorState::from_size(self.first_size(), 1.0),
            self.repaint.clone(),
            settings,
            App {
                session: self.session.clone(),
                gui: None,
                outbox: Outbox::new(self.params.clone()),
                keys: Keys::default(),
            },
        );
        let editor = editor.ok_or("the toolkit makes no editor")?;
        let SpawnedEditor { handle, window } =
            editor.spawn(parent, wait_for_parent, None, gui, host)?;
        // Told when the window is made, the scale would shrink what is drawn on X11 (baseview 0.4)
        // and leave the window as it is. Hosts may also tell it before there is a window, when the
        // framework takes none.
        if let Some(scale) = fallback_scale_factor.or(self.link.scale()) {
            // Where the system states a scale of its own, that one counts.
            let _ = handle.set_fallback_scale_factor(scale, &window);
        }
        Ok(SpawnedEditor { handle: LedgerlineHandle(handle), window })
    }

    fn size(&self) -> NativeSize<u32> {
        let found_out = lock(&self.session).scale;
        let scale = found_out.or(self.link.scale()).unwrap_or(1.0);
        NativeSize::from_size(self.first_size().into(), scale)
    }

    fn resize_hint(&self) -> ResizeHint {
        let least = LogicalSize { width: LEAST_SIZE.x, height: LEAST_SIZE.y };
        ResizeHint::RESIZABLE.with_min_logical_size(least)
    }

    fn track_info_updated(&self, info: TrackInfo) {
        lock(&self.session).screen.title = info.name().to_owned();
        self.repaint.request_repaint();
    }
}

/// One open window.
struct App {
    session: Arc<Mutex<Session>>,
    gui: Option<GuiContext>,
    outbox: Outbox,
    keys: Keys,
}

/// Whether the window is known to be hidden, in which case nothing is to be drawn until the window
/// system asks for it. Elsewhere the window system asks for no frames of hidden windows.
fn is_hidden(frame: &Frame) -> bool {
    #[cfg(target_os = "linux")]
    return x11::is_hidden(frame);
    #[cfg(not(target_os = "linux"))]
    return {
        let _ = frame;
        false
    };
}

impl NiceEguiApp for App {
    fn build(
        &mut self,
        ctx: egui::Context,
        gui: GuiContext,
        _frame: &mut Frame,
    ) -> Result<(), HandlerError> {
        let (outbox, told) = (self.outbox.clone(), gui.clone());
        // After the frame, when the toolkit has let go of this app as well.
        ctx.on_end_pass("tell the host", Arc::new(move |_| outbox.tell(&told)));
        self.gui = Some(gui);
        Ok(())
    }

    fn ui(&mut self, ui: &mut egui::Ui, frame: &mut Frame) {
        if is_hidden(frame) {
            return;
        }
        let session = &mut *lock(&self.session);
        let before = session.params.choices();
        let mut choices = before;
        session.screen.messages = session.status.messages();
        let switched_off = session.params.marker.switched_off();
        session.screen.switched_off = switched_off;
        session.tell_undo();
        session.tell_entries();
        session.tell_sum_test();
        let latest = session.subscriber.latest();
        let aimed = latest.aimed_at(&choices);
        let snapshot = aimed.as_ref().unwrap_or(latest);
        let history = session.boards.history.lock();
        let given = Given { snapshot, history: &history };
        let response = screen::show(ui, given, &mut choices, &mut session.screen);
        drop(history);
        if response.reset {
            session.buttons.reset.press();
            let beginnings = session.beginnings();
            session.reset = Some(Reset { at: Instant::now(), beginnings });
            session.subscriber.clear();
        }
        if response.undo_reset {
            session.reset = None;
            session.buttons.undo_reset.press();
            session.subscriber.restore();
        }
        if response.mark {
            session.buttons.mark.press();
        }
        session.boards.entries.pick(session.screen.entries_view.pair());
        let answered = session.screen.switched_off.is_none();
        if let Some(off) = switched_off
            && (answered || SwitchedOff::is_answered_by(&choices))
        {
            session.params.marker.answer(off);
        }
        session.keep_sum_test(&choices, response.save_sum_test);
        let holding = ui.input(|input| input.pointer.any_down());
        self.outbox.leave(Change { before, after: choices, holding });
        session.keep_look();
        self.keys.share(ui.ctx(), frame);
        ui.ctx().request_repaint_after(FRAME);
    }

    fn resized(&mut self, size: WindowSize) {
        let mut session = lock(&self.session);
        session.scale = Some(size.scale_factor);
        let mut look = session.params.window.look();
        look.width_points = size.logical.width as f32;
        look.height_points = size.logical.height as f32;
        session.params.window.set_look(look);
    }
}

impl Drop for App {
    /// The window closes, perhaps in the middle of a drag.
    fn drop(&mut self) {
        if let Some(gui) = self.gui.take() {
            // The framework's context panics where the instance has gone before its window. Then
            // there is nobody left to tell.
            let _ = catch_unwind(AssertUnwindSafe(|| self.outbox.close(&gui)));
        }
    }
}

impl Session {
    /// Tells the screen for how long a reset can be undone.
    fn tell_undo(&mut self) {
        let beginnings = self.beginnings();
        let reset = self.reset.take().filter(|reset| reset.beginnings == beginnings);
        let left_s = |reset: &Reset| UNDO_S - reset.at.elapsed().as_secs_f64();
        self.reset = reset.filter(|reset| left_s(reset) > 0.0);
        self.screen.undo_s = self.reset.as_ref().map(left_s);
    }

    /// How often readings have begun anew: by a reset, from wherever, and otherwise.
    fn beginnings(&self) -> [u32; 2] {
        [&self.buttons.reset, &self.buttons.afresh].map(Button::presses)
    }

    /// Tells the screen how the entries stand. A frozen screen keeps those that it has.
    fn tell_entries(&mut self) {
        let told = self.boards.entries.latest();
        if self.screen.frozen.is_none() {
            self.screen.entries = told;
        } else {
            self.screen.entries.picked = told.picked;
        }
    }

    /// Tells the screen how the sum test stands.
    fn tell_sum_test(&mut self) {
        self.screen.sum_test = sum_test::Told {
            record: self.boards.sum_test.latest(),
            has_rate: self.boards.sum_test.rate_hz().is_some(),
            identified: self.desk.identified(),
            saving: self.desk.saving(),
        };
        self.screen.sum_test_view.entries = self.params.meter.entries();
    }

    /// Keeps what was typed in, and hands on what it asks for. Nothing here waits.
    fn keep_sum_test(&self, choices: &Choices, save: bool) {
        let entries = self.screen.sum_test_view.entries;
        if entries != self.params.meter.entries() {
            self.params.meter.set_entries(entries);
        }
        if !choices.hears_test() || !self.screen.shows_sum_test() {
            return;
        }
        let rate_hz = self.boards.sum_test.rate_hz().unwrap_or(USUAL_RATE_HZ);
        if entries.missing() == 0 {
            self.desk.ask(Question { rate_hz, entries });
        } else {
            self.desk.prepare(rate_hz);
        }
        if let Some(conclusion) = self.boards.sum_test.conclusion().filter(|_| save) {
            self.desk.save(conclusion, entries);
        }
    }

    /// Takes up what was saved with the window's size.
    fn recall_look(&mut self) {
        let look = self.params.window.look();
        let screen = &mut self.screen;
        (screen.theme, screen.drawer, screen.time.span) = (look.theme(), look.drawer, look.span);
    }

    /// Saves the colours, the drawer that is open and the time that is shown with the window's size.
    fn keep_look(&self) {
        let (before, screen) = (self.params.window.look(), &self.screen);
        let mut look = before;
        if look.theme() != screen.theme {
            look = look.with_theme(screen.theme);
        }
        (look.drawer, look.span) = (screen.drawer, screen.time.span);
        if look != before {
            self.params.window.set_look(look);
        }
    }
}

fn lock(session: &Mutex<Session>) -> MutexGuard<'_, Session> {
    // Whatever a panicking frame left behind is drawn over by the next.
    session.lock().unwrap_or_else(PoisonError::into_inner)
}
