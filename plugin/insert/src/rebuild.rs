//! What measures one kind of bus with one set of settings, made and freed away from the audio
//! thread, and the wait-free way by which the audio thread takes a new one and returns the old.
//! [`succession`] is what the audio thread does with them.

pub mod succession;

use ledgerline_measure::{Meter, Settings, SettingsError};
use rtrb::{Consumer, Producer, RingBuffer};

use crate::bus::Bus;
use crate::handover::UNDO_S;
use crate::listen::Filters;

/// Audio may run ahead of the clock by which somebody undoes a reset, in seconds.
const AHEAD_S: f64 = 0.5;

/// A meter and the filters to listen by, for one bus and one set of settings.
pub struct Measuring {
    /// The settings it was made for, fitted to the bus.
    pub settings: Settings,
    /// The meter; `None` where the bus or the settings cannot be measured.
    pub meter: Option<Meter>,
    /// The filters to listen by; `None` where the rate or the edges allow none.
    pub filters: Option<Filters>,
}

impl Measuring {
    /// Makes everything anew. Allocates, and takes milliseconds.
    ///
    /// When the bus or the settings cannot be measured, the reason comes with a `Measuring` that
    /// measures nothing.
    #[must_use]
    pub fn build(bus: Bus, settings: Settings) -> (Box<Self>, Option<SettingsError>) {
        let made = match bus.surround() {
            Some(surround) => Meter::for_channels(bus.rate_hz, surround.roles, settings),
            None => Meter::new(bus.rate_hz, bus.main, bus.side_chain, settings),
        };
        let (meter, error) = match made {
            Ok(mut meter) => {
                meter.keep_history();
                meter.keep_resets(((UNDO_S + AHEAD_S) * bus.rate_hz) as u64);
                (Some(meter), None)
            }
            Err(error) => (None, Some(error)),
        };
        // What is listened to does not depend on the halves.
        let filters = match error {
            None | Some(SettingsError::Channels { .. }) => {
                Some(Filters::new(bus.rate_hz, bus.main, settings.edges))
            }
            Some(_) => None,
        };
        (Box::new(Self { settings, meter, filters }), error)
    }
}

/// How many may be on their way at once, in each direction.
const ON_THE_WAY: usize = 4;

/// The audio thread's half: takes what is new, gives back what is old.
pub struct Taker {
    ready: Consumer<Box<Measuring>>,
    retired: Producer<Box<Measuring>>,
}

/// The half of the thread that builds and frees.
pub struct Maker {
    ready: Producer<Box<Measuring>>,
    retired: Consumer<Box<Measuring>>,
}

/// Makes both halves. Allocates.
#[must_use]
pub fn exchange() -> (Taker, Maker) {
    let (ready_in, ready_out) = RingBuffer::new(ON_THE_WAY);
    let (retired_in, retired_out) = RingBuffer::new(ON_THE_WAY);
    (
        Taker { ready: ready_out, retired: retired_in },
        Maker { ready: ready_in, retired: retired_out },
    )
}

impl Taker {
    /// The newest one there is; older ones that were never taken go back. Neither waits nor frees.
    pub fn newest(&mut self) -> Option<Box<Measuring>> {
        let mut newest = self.ready.pop().ok()?;
        while self.retired.slots() > 0 {
            let Ok(next) = self.ready.pop() else { break };
            // There is space: this thread alone fills it, and has just looked.
            let _ = self.retired.push(std::mem::replace(&mut newest, next));
        }
        Some(newest)
    }

    /// Gives back what is in `old`, if there is space; otherwise it stays there.
    pub fn give_back(&mut self, old: &mut Option<Box<Measuring>>) {
        if self.retired.slots() > 0
            && let Some(old) = old.take()
        {
            // There is space, as above.
            let _ = self.retired.push(old);
        }
    }

    /// Frees whatever is on its way. Not for the audio thread.
    pub fn discard(&mut self) {
        while self.ready.pop().is_ok() {}
    }
}

impl Maker {
    /// Offers a new one. When too many wait already, it comes back.
    ///
    /// # Errors
    ///
    /// The one offered, when there is no space.
    pub fn offer(&mut self, measuring: Box<Measuring>) -> Result<(), Box<Measuring>> {
        self.ready.push(measuring).map_err(|rtrb::PushError::Full(measuring)| measuring)
    }

    /// Whether there is space to offer one.
    #[must_use]
    pub fn has_space(&self) -> bool {
        self.ready.slots() > 0
    }

    /// Frees what the audio thread gave back.
    pub fn free(&mut self) {
        while self.retired.pop().is_ok() {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BUS: Bus = Bus { rate_hz: 48_000.0, main: 2, side_chain: 0 };

    #[test]
    fn what_cannot_be_measured_says_why_and_measures_nothing() {
        for rate_hz in [0.0, -48_000.0, f64::NAN, 1e9] {
            let (measuring, error) = Measuring::build(Bus { rate_hz, ..BUS }, Settings::default());
            assert!(measuring.meter.is_none() && measuring.filters.is_none());
            assert!(matches!(error, Some(SettingsError::Rate { .. })), "{rate_hz} Hz");
        }
    }
}
