//! What a host is told of a window, by a context that answers at once.

#![allow(unsafe_code, reason = "the framework declares what a context does as unsafe to call")]

use nice_plug::context::PluginApi;
use nice_plug::context::gui::GuiContextInner;
use nice_plug::params::internals::ParamPtr;
use nice_plug::prelude::{Params, PluginState};

use super::*;
use crate::choices::Listen;

/// Writes down what it is told, by the parameter's id, and asks back each time.
struct Host {
    told: Mutex<Vec<(&'static str, String)>>,
    ids: Vec<(String, ParamPtr)>,
    /// What only a caller without locks can look at.
    outbox: Outbox,
}

impl Host {
    fn hear(&self, what: &'static str, param: ParamPtr) {
        let free = self.outbox.waiting.try_lock().is_ok();
        assert!(free, "told while a lock is held that the answer may need");
        let id = self.ids.iter().find(|(_, ptr)| *ptr == param).expect("a parameter").0.clone();
        self.told.lock().unwrap().push((what, id));
    }
}

impl GuiContextInner for Host {
    fn plugin_api(&self) -> PluginApi {
        PluginApi::Clap
    }

    unsafe fn raw_begin_set_parameter(&self, param: ParamPtr) {
        self.hear("begin", param);
    }

    unsafe fn raw_set_parameter_normalized(&self, param: ParamPtr, _: f32) {
        self.hear("set", param);
    }

    unsafe fn raw_end_set_parameter(&self, param: ParamPtr) {
        self.hear("end", param);
    }

    fn get_state(&self) -> PluginState {
        unreachable!("nobody asks a host for a state")
    }

    fn set_state(&self, _: PluginState) {}

    fn request_restart(&self) {}
}

fn rig() -> (Outbox, Arc<Host>, GuiContext, Choices) {
    let params = Arc::new(LedgerlineParams::new(Arc::default(), Arc::default()));
    let outbox = Outbox::new(params.clone());
    let ids = params.param_map().into_iter().map(|(id, ptr, _)| (id, ptr)).collect();
    let host = Arc::new(Host { told: Mutex::default(), ids, outbox: outbox.clone() });
    (outbox, host.clone(), GuiContext::new(host), params.choices())
}

fn told(host: &Host) -> Vec<(&'static str, String)> {
    std::mem::take(&mut host.told.lock().unwrap())
}

fn words(expected: &[(&'static str, &str)]) -> Vec<(&'static str, String)> {
    expected.iter().map(|(what, id)| (*what, (*id).to_owned())).collect()
}

#[test]
fn a_drag_is_one_gesture_and_a_click_is_one() {
    let (outbox, host, gui, before) = rig();
    let dragged = |db| Choices { ceiling_db: db, ..before };
    for (from, to, holding) in [(-1.0, -2.0, true), (-2.0, -3.0, true), (-3.0, -3.0, false)] {
        outbox.leave(Change { before: dragged(from), after: dragged(to), holding });
        outbox.tell(&gui);
    }
    let one = [("begin", "ceiling"), ("set", "ceiling"), ("set", "ceiling"), ("end", "ceiling")];
    assert_eq!(told(&host), words(&one));

    let after = Choices { listen: Listen::Hidden, ..before };
    outbox.leave(Change { before, after, holding: false });
    outbox.tell(&gui);
    outbox.tell(&gui);
    assert_eq!(told(&host), words(&[("begin", "listen"), ("set", "listen"), ("end", "listen")]));
}

#[test]
fn a_window_that_closes_in_a_drag_ends_the_gesture_once() {
    let (outbox, host, gui, before) = rig();
    let after = Choices { target_value: -20.0, ..before };
    outbox.leave(Change { before, after, holding: true });
    outbox.tell(&gui);
    outbox.close(&gui);
    outbox.close(&gui);
    assert_eq!(told(&host), words(&[("begin", "target"), ("set", "target"), ("end", "target")]));
}
