//! What the user changes on the screen, told to the host as it wants to hear it: a gesture begins,
//! values follow, the gesture ends when the pointer is let go or the window closes.
//!
//! The host may answer while it is told, by asking the plugin or by changing something. So nothing
//! here is called while a lock is held: what a frame has changed is left in the [`Outbox`] and told
//! when the frame is over.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use nice_plug::context::gui::GuiContext;
use nice_plug::prelude::{Param, ParamSetter};

use crate::choices::Choices;
use crate::params::LedgerlineParams;
use crate::params::switched_off::Replacing;

/// What a frame has changed.
#[derive(Debug, Clone, Copy)]
pub struct Change {
    /// The choices before the frame.
    pub before: Choices,
    /// The choices after it.
    pub after: Choices,
    /// Whether the user holds the pointer: gestures stay open meanwhile.
    pub holding: bool,
}

/// Changes on their way from a window to the host.
#[derive(Clone)]
pub struct Outbox {
    params: Arc<LedgerlineParams>,
    waiting: Arc<Mutex<Waiting>>,
}

#[derive(Default)]
struct Waiting {
    change: Option<Change>,
    /// Away while they are being told.
    gestures: Option<Gestures>,
}

impl Outbox {
    /// The outbox of a window.
    #[must_use]
    pub fn new(params: Arc<LedgerlineParams>) -> Self {
        let waiting = Waiting { change: None, gestures: Some(Gestures::default()) };
        Self { params, waiting: Arc::new(Mutex::new(waiting)) }
    }

    /// Leaves what a frame has changed.
    pub fn leave(&self, change: Change) {
        self.lock().change = Some(change);
    }

    /// Tells the host what waits. To be called without a lock.
    pub fn tell(&self, gui: &GuiContext) {
        let Some((change, mut gestures)) = self.take() else { return };
        gestures.follow(&self.params, gui, &change);
        gestures.release_presses(&self.params, gui);
        self.lock().gestures = Some(gestures);
    }

    /// Tells the host the end of every gesture that is still open. To be called without a lock.
    pub fn close(&self, gui: &GuiContext) {
        let gestures = self.lock().gestures.take();
        if let Some(mut gestures) = gestures {
            gestures.end(&self.params, gui);
        }
    }

    fn take(&self) -> Option<(Change, Gestures)> {
        let mut waiting = self.lock();
        let change = waiting.change.take()?;
        Some((change, waiting.gestures.take()?))
    }

    fn lock(&self) -> MutexGuard<'_, Waiting> {
        // What waits is replaced whole.
        self.waiting.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Says once for every choice which parameter it is and how its value is told.
macro_rules! told {
    ($($field:ident: $param:ident, $to_plain:expr;)+) => {
        /// Whether the gesture of a choice has begun and not ended.
        #[derive(Debug, Default)]
        struct Open {
            $($field: bool,)+
        }

        impl Open {
            fn follow(
                &mut self,
                teller: &mut Teller<'_>,
                params: &LedgerlineParams,
                before: &Choices,
                after: &Choices,
            ) {
                // Every field by name: a choice that is missing in the list does not compile.
                let Choices { $($field,)+ } = *after;
                $(
                    let changed = before.$field != $field;
                    let value = changed.then(|| ($to_plain)($field));
                    teller.tell(&mut self.$field, &params.$param, value);
                )+
            }
        }
    };
}

told! {
    target_kind: target_kind, Into::into;
    target_value: target, number;
    ceiling_db: ceiling, number;
    low_edge_hz: low_edge, number;
    high_edge_hz: high_edge, number;
    halves: halves, Into::into;
    rms_window: rms_window, Into::into;
    rms_reference: rms_reference, Into::into;
    peak_window_s: peak_hold, number;
    true_peak: true_peak, Into::into;
    clip_at: clip_at, Into::into;
    listen: listen, Into::into;
    sum_test: sum_test, Into::into;
    feed_level_dbfs: feed_level, number;
    feed_offline: feed_offline, same;
    meter_detector: your_meter, Into::into;
    meter_band: your_meter_band, Into::into;
    meter_offset_db: your_meter_offset, number;
    log: log, same;
    bypass: bypass, same;
    feeds_play: feeds_play, Into::into;
    pair_s: loop_pair, number;
}

fn number(value: f64) -> f32 {
    value as f32
}

fn same(value: bool) -> bool {
    value
}

/// The gestures that have begun and not ended.
#[derive(Debug, Default)]
struct Gestures {
    open: Open,
    /// Whether Reset and Mark have been let go and the host has not followed yet.
    releasing: [bool; 2],
}

impl Gestures {
    /// Tells the host what has changed.
    fn follow(&mut self, params: &LedgerlineParams, gui: &GuiContext, change: &Change) {
        // What the user chooses is no longer what came with a state.
        let held = &params.marker.held;
        if change.before.listen != change.after.listen {
            held.release(Replacing::Listen);
        }
        if change.before.sum_test != change.after.sum_test {
            held.release(Replacing::Feed);
        }
        let mut teller = Teller { setter: gui.param_setter(), holding: change.holding };
        self.open.follow(&mut teller, params, &change.before, &change.after);
    }

    /// Ends every gesture that is open.
    fn end(&mut self, params: &LedgerlineParams, gui: &GuiContext) {
        let choices = params.choices();
        let change = Change { before: choices, after: choices, holding: false };
        self.follow(params, gui, &change);
    }

    /// Lets Reset and Mark go after somebody else pressed them: they are presses and no states, and
    /// can be pressed again only once they are off.
    fn release_presses(&mut self, params: &LedgerlineParams, gui: &GuiContext) {
        for (param, releasing) in [&params.reset, &params.mark].into_iter().zip(&mut self.releasing)
        {
            let pressed = param.value();
            if pressed && !*releasing {
                let setter = gui.param_setter();
                setter.begin_set_parameter(param);
                setter.set_parameter(param, false);
                setter.end_set_parameter(param);
            }
            *releasing = pressed;
        }
    }
}

struct Teller<'a> {
    setter: ParamSetter<'a>,
    holding: bool,
}

impl Teller<'_> {
    fn tell<P: Param>(&mut self, open: &mut bool, param: &P, value: Option<P::Plain>) {
        if let Some(value) = value {
            if !*open {
                self.setter.begin_set_parameter(param);
                *open = true;
            }
            self.setter.set_parameter(param, value);
        }
        if *open && !self.holding {
            self.setter.end_set_parameter(param);
            *open = false;
        }
    }
}

#[cfg(test)]
mod tests;
