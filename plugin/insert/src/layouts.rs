//! The buses that a host can choose from. The first is what hosts get that do not choose; it has
//! the side-chain, since a format that cannot change its number of inputs would never see it.

use nice_plug::prelude::*;

use crate::rebuild::Bus;

/// Most channels a layout has, main or side-chain.
pub const MOST_CHANNELS: usize = 2;

/// Every layout.
pub const ALL: &[AudioIOLayout] = &[
    layout(2, &[new_nonzero_u32(2)], "Stereo with side-chain"),
    layout(2, &[], "Stereo"),
    layout(1, &[], "Mono"),
    layout(1, &[new_nonzero_u32(1)], "Mono with side-chain"),
    // Hosts that leave a bus they do not use as it was ask for this one on a mono track.
    layout(1, &[new_nonzero_u32(2)], "Mono with stereo side-chain"),
];

const fn layout(
    channels: u32,
    side_chain: &'static [NonZeroU32],
    name: &'static str,
) -> AudioIOLayout {
    AudioIOLayout {
        main_input_channels: NonZeroU32::new(channels),
        main_output_channels: NonZeroU32::new(channels),
        aux_input_ports: side_chain,
        names: PortNames {
            layout: Some(name),
            aux_inputs: &["Side-chain"],
            ..PortNames::const_default()
        },
        ..AudioIOLayout::const_default()
    }
}

/// The bus that a layout makes at a sample rate.
#[must_use]
pub fn bus(layout: &AudioIOLayout, rate_hz: f32) -> Bus {
    let count = |channels: NonZeroU32| channels.get() as usize;
    Bus {
        rate_hz: f64::from(rate_hz),
        main: layout.main_input_channels.map_or(0, count),
        side_chain: layout.aux_input_ports.first().copied().map_or(0, count),
    }
}

/// Collects the channels of the side-chain, and says how many there are.
pub fn side_chain<'a>(
    aux: &'a mut AuxiliaryBuffers,
    channels: &mut [&'a [f32]; MOST_CHANNELS],
) -> usize {
    let Some(buffer) = aux.inputs.first_mut() else {
        return 0;
    };
    let mut count = 0;
    for (slot, channel) in channels.iter_mut().zip(buffer.as_slice_immutable()) {
        *slot = channel;
        count += 1;
    }
    count
}
