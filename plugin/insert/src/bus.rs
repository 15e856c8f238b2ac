//! The bus that an instance sits on, as the host announced it.

use ledgerline_measure::{Halves, Settings};
use nice_plug::prelude::AudioIOLayout;

use crate::layouts::{MainBus, main_bus};

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
    /// The bus that a layout makes at a sample rate, beside a side-chain of so many channels.
    #[must_use]
    pub fn new(layout: &AudioIOLayout, rate_hz: f32, side_chain: usize) -> Self {
        Self {
            rate_hz: f64::from(rate_hz),
            main: layout.main_input_channels.map_or(0, |channels| channels.get() as usize),
            side_chain,
        }
    }

    /// The settings as they apply to this bus: a single channel cannot be parted into left and
    /// right, and the halves of a surround bus are left and right.
    #[must_use]
    pub fn fit(&self, settings: Settings) -> Settings {
        let halves = match settings.halves {
            _ if self.surround().is_some() => Halves::LeftRight,
            Halves::LeftRight if self.main == 1 => Halves::Mono,
            halves => halves,
        };
        Settings { halves, ..settings }
    }

    /// The main bus, where it has more channels than left and right.
    #[must_use]
    pub fn surround(&self) -> Option<&'static MainBus> {
        main_bus(self.main).filter(|bus| bus.is_surround())
    }
}
