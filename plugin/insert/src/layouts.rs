//! The buses that a host can choose from.
//!
//! The framework is told of the main bus alone. The side-chain is the entry points' (`export`):
//! they announce it, and hand it over through the [`HostLink`](crate::host_link::HostLink), since
//! the framework (nice-plug 0.4.2) selects side-chains by the main bus's channels and reads them
//! without looking whether the host has passed any.
//!
//! Channels stand in the order of their loudspeakers' bits, and those bits are the same in WAVE
//! files (`WAVEFORMATEXTENSIBLE`), in CLAP's `surround.h` and in VST 3's `vstspeaker.h`, for every
//! loudspeaker named here. So a bus is measured as a file of the same content is.

use ledgerline_measure::ChannelRole::{self, Center, Left, LowFrequency, Other, Right, Surround};
use nice_plug::prelude::*;

/// Most channels of a main bus.
pub const MOST_CHANNELS: usize = 12;

/// Most channels of a side-chain.
pub const MOST_SIDE_CHANNELS: usize = 2;

/// A main bus: input and output of one shape.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MainBus {
    /// What hosts call it.
    pub name: &'static str,
    /// Its loudspeakers' bits; none for a single channel, whose loudspeaker is nobody's business.
    pub speakers: u64,
    /// What each channel is for.
    pub roles: &'static [ChannelRole],
}

impl MainBus {
    const fn new(name: &'static str, speakers: u64, roles: &'static [ChannelRole]) -> Self {
        Self { name, speakers, roles }
    }

    /// How many channels it has; no two buses have the same number.
    #[must_use]
    pub const fn channels(&self) -> usize {
        self.roles.len()
    }

    /// Whether it has more channels than left and right.
    #[must_use]
    pub const fn is_surround(&self) -> bool {
        self.channels() > 2
    }
}

/// Every main bus. The first is what hosts get that do not choose.
///
/// In 5.1 and quad the surrounds carry the bits of the "back" loudspeakers; where there are "side"
/// ones too, those are the surrounds, and the back ones stand at 135°, which loudness does not
/// raise (ITU-R BS.1770-5, Annex 3, Table 4), nor what stands above.
pub const MAIN_BUSES: [MainBus; 7] = [
    MainBus::new("Stereo", 0x3, &[Left, Right]),
    MainBus::new("Mono", 0, &[Center]),
    MainBus::new("LCR", 0x7, &[Left, Right, Center]),
    MainBus::new("Quad", 0x33, &[Left, Right, Surround, Surround]),
    MainBus::new("5.1", 0x3f, &[Left, Right, Center, LowFrequency, Surround, Surround]),
    MainBus::new(
        "7.1",
        0x63f,
        &[Left, Right, Center, LowFrequency, Other, Other, Surround, Surround],
    ),
    MainBus::new(
        "7.1.4",
        0x2_d63f,
        &[
            Left,
            Right,
            Center,
            LowFrequency,
            Other,
            Other,
            Surround,
            Surround,
            Other,
            Other,
            Other,
            Other,
        ],
    ),
];

/// The main bus of so many channels.
#[must_use]
pub fn main_bus(channels: usize) -> Option<&'static MainBus> {
    MAIN_BUSES.iter().find(|bus| bus.channels() == channels)
}

/// The main buses as the framework is told of them, in the same order.
pub const ALL: &[AudioIOLayout] = &{
    let mut all = [AudioIOLayout::const_default(); MAIN_BUSES.len()];
    let mut index = 0;
    while index < all.len() {
        let channels = NonZeroU32::new(MAIN_BUSES[index].channels() as u32);
        all[index].main_input_channels = channels;
        all[index].main_output_channels = channels;
        all[index].names.layout = Some(MAIN_BUSES[index].name);
        index += 1;
    }
    all
};

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_channel_has_a_loudspeaker_of_its_own_and_every_bus_a_number() {
        for (index, bus) in MAIN_BUSES.iter().enumerate() {
            let speakers = if bus.channels() == 1 { 1 } else { bus.speakers.count_ones() as usize };
            assert_eq!(speakers, bus.channels(), "{}", bus.name);
            assert_eq!(main_bus(bus.channels()), Some(&MAIN_BUSES[index]), "{}", bus.name);
            assert!(bus.channels() <= MOST_CHANNELS, "{}", bus.name);
            assert_eq!(ALL[index].name(), bus.name);
        }
    }
}
