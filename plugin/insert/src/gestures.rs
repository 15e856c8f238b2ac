//! What the user changes on the screen, told to the host as it wants to hear it: a gesture begins,
//! values follow, the gesture ends when the pointer is let go.

use nice_plug::context::gui::GuiContext;
use nice_plug::prelude::{Param, ParamSetter};

use crate::choices::Choices;
use crate::params::LedgerlineParams;

/// How many parameters the screen can change.
const COUNT: usize = 16;

/// The gestures that have begun and not ended.
#[derive(Debug, Default)]
pub struct Gestures {
    open: [bool; COUNT],
    /// Whether Reset has been let go and the host has not followed yet.
    releasing: bool,
}

impl Gestures {
    /// Tells the host what has changed between `before` and `after`. While the user is `holding`
    /// the pointer, gestures stay open.
    pub fn follow(
        &mut self,
        params: &LedgerlineParams,
        gui: &GuiContext,
        before: &Choices,
        after: &Choices,
        holding: bool,
    ) {
        let mut open = self.open.iter_mut();
        let mut teller = Teller { setter: gui.param_setter(), holding };
        macro_rules! tell {
            ($param:ident, $field:ident, $to_plain:expr) => {
                if let Some(open) = open.next() {
                    let changed = before.$field != after.$field;
                    let to_plain = $to_plain;
                    teller.tell(open, &params.$param, changed.then(|| to_plain(after.$field)));
                }
            };
        }
        let number = |value: f64| value as f32;
        let same = |value: bool| value;
        tell!(target_kind, target_kind, Into::into);
        tell!(target, target_value, number);
        tell!(ceiling, ceiling_db, number);
        tell!(low_edge, low_edge_hz, number);
        tell!(high_edge, high_edge_hz, number);
        tell!(halves, halves, Into::into);
        tell!(rms_window, rms_window, Into::into);
        tell!(rms_reference, rms_reference, Into::into);
        tell!(peak_hold, peak_window_s, number);
        tell!(true_peak, true_peak, Into::into);
        tell!(listen, listen, Into::into);
        tell!(sum_test, sum_test, Into::into);
        tell!(feed_level, feed_level_dbfs, number);
        tell!(feed_offline, feed_offline, same);
        tell!(log, log, same);
        tell!(bypass, bypass, same);
    }

    /// Lets Reset go after somebody else pressed it: it is a press and no state, and can be pressed
    /// again only once it is off.
    pub fn release_reset(&mut self, params: &LedgerlineParams, gui: &GuiContext) {
        let pressed = params.reset.value();
        if pressed && !self.releasing {
            let setter = gui.param_setter();
            setter.begin_set_parameter(&params.reset);
            setter.set_parameter(&params.reset, false);
            setter.end_set_parameter(&params.reset);
        }
        self.releasing = pressed;
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
