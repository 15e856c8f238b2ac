//! What measures one kind of bus with one set of settings, made and freed away from the audio
//! thread, and the wait-free way by which the audio thread takes a new one and returns the old.

use ledgerline_measure::{Halves, Meter, Settings, SettingsError};
use rtrb::{Consumer, Producer, RingBuffer};

use crate::listen::Listening;

/// The bus as the host announced it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bus {
    /// Sample rate, in Hz.
    pub rate_hz: f64,
    /// Channels of the main input.
    pub main: usize,
    /// Channels of the side-chain input, 0 where there is none.
    pub side_chain: usize,
}

impl Bus {
    /// The settings as they apply to this bus: a single channel cannot be parted into left and
    /// right.
    #[must_use]
    pub fn fit(&self, settings: Settings) -> Settings {
        let halves = match settings.halves {
            Halves::LeftRight if self.main == 1 => Halves::Mono,
            halves => halves,
        };
        Settings { halves, ..settings }
    }
}

/// A meter and the filters to listen by, for one bus and one set of settings.
pub struct Measuring {
    /// The settings it was made for, fitted to the bus.
    pub settings: Settings,
    /// The meter; `None` where the bus or the settings cannot be measured.
    pub meter: Option<Meter>,
    /// The filters to listen by; `None` where there is no meter.
    pub listening: Option<Listening>,
}

impl Measuring {
    /// Makes everything anew. Allocates, and takes milliseconds.
    ///
    /// When the bus or the settings cannot be measured, the reason comes with a `Measuring` that
    /// measures nothing.
    #[must_use]
    pub fn build(bus: Bus, settings: Settings) -> (Box<Self>, Option<SettingsError>) {
        match Meter::new(bus.rate_hz, bus.main, bus.side_chain, settings) {
            Ok(meter) => {
                let listening = Some(Listening::new(bus.rate_hz, bus.main, settings.edges));
                (Box::new(Self { settings, meter: Some(meter), listening }), None)
            }
            Err(error) => (Box::new(Self { settings, meter: None, listening: None }), Some(error)),
        }
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
    /// Puts the newest one into `current` and says whether that happened. Neither waits nor frees:
    /// as long as there is no space to give the old one back, the new one is left where it is.
    pub fn take(&mut self, current: &mut Option<Box<Measuring>>) -> bool {
        let mut taken = false;
        while self.retired.slots() > 0 {
            let Ok(next) = self.ready.pop() else { break };
            taken = true;
            if let Some(old) = current.replace(next) {
                // There is space: this thread alone fills it, and has just looked.
                let _ = self.retired.push(old);
            }
        }
        taken
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

    fn one(halves: Halves) -> Box<Measuring> {
        Measuring::build(BUS, Settings { halves, ..Settings::default() }).0
    }

    #[test]
    fn the_newest_is_taken_and_the_old_ones_come_back_to_be_freed() {
        let (mut taker, mut maker) = exchange();
        let mut current = Some(one(Halves::LeftRight));
        assert!(!taker.take(&mut current), "nothing was offered");

        assert!(maker.offer(one(Halves::Mono)).is_ok());
        assert!(maker.offer(one(Halves::MainSidechain)).is_ok());
        assert!(taker.take(&mut current));
        assert_eq!(current.map(|c| c.settings.halves), Some(Halves::MainSidechain));
        let back = [maker.retired.pop().unwrap(), maker.retired.pop().unwrap()];
        assert_eq!(back.map(|b| b.settings.halves), [Halves::LeftRight, Halves::Mono]);
        assert!(maker.retired.pop().is_err());
    }

    #[test]
    fn without_space_to_give_back_the_new_one_waits() {
        let (mut taker, mut maker) = exchange();
        let mut current = Some(one(Halves::LeftRight));
        for _ in 0..ON_THE_WAY {
            assert!(maker.offer(one(Halves::Mono)).is_ok());
            assert!(taker.take(&mut current));
        }
        assert!(maker.offer(one(Halves::MainSidechain)).is_ok());
        assert!(!taker.take(&mut current), "the old one would have had to be freed here");
        maker.free();
        assert!(taker.take(&mut current));
        assert_eq!(current.map(|c| c.settings.halves), Some(Halves::MainSidechain));
    }

    #[test]
    fn what_cannot_be_measured_says_why_and_measures_nothing() {
        for rate_hz in [0.0, -48_000.0, f64::NAN, 1e9] {
            let (measuring, error) = Measuring::build(Bus { rate_hz, ..BUS }, Settings::default());
            assert!(measuring.meter.is_none() && measuring.listening.is_none());
            assert!(matches!(error, Some(SettingsError::Rate { .. })), "{rate_hz} Hz");
        }
    }
}
