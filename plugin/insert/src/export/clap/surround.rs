//! Which loudspeaker each channel of a port belongs to. Loudspeakers have the same bits in CLAP as
//! in `layouts`, and channels stand in their order.

use clap_sys::ext::surround::{CLAP_SURROUND_FC, clap_plugin_surround};
use clap_sys::plugin::clap_plugin;

use super::instance::Instance;
use super::ports::{INPUT, port_count};
use crate::layouts::{MAIN_BUSES, MainBus, main_bus};

pub(super) static TABLE: clap_plugin_surround = clap_plugin_surround {
    is_channel_mask_supported: Some(is_channel_mask_supported),
    get_channel_map: Some(get_channel_map),
};

unsafe extern "C" fn is_channel_mask_supported(_plugin: *const clap_plugin, mask: u64) -> bool {
    MAIN_BUSES.iter().any(|bus| bus.is_surround() && bus.speakers == mask)
}

unsafe extern "C" fn get_channel_map(
    plugin: *const clap_plugin,
    is_input: bool,
    index: u32,
    map: *mut u8,
    capacity: u32,
) -> u32 {
    // SAFETY: the host speaks of its instance.
    let Some(instance) = (unsafe { Instance::of(plugin) }) else { return 0 };
    let link = &instance.link;
    if map.is_null() || index >= port_count(is_input, link.side_channels()) {
        return 0;
    }
    let bus = if index == INPUT { Some(link.main_bus()) } else { main_bus(link.side_channels()) };
    let Some(bus) = bus else { return 0 };
    // SAFETY: hosts pass a place for as many channels as they state.
    let map = unsafe { std::slice::from_raw_parts_mut(map, capacity as usize) };
    map.iter_mut().zip(speakers_in_order(bus)).map(|(slot, speaker)| *slot = speaker).count() as u32
}

/// The format's numbers of a bus's loudspeakers, channel by channel.
pub(super) fn speakers_in_order(bus: &MainBus) -> impl Iterator<Item = u8> {
    let speakers = if bus.channels() == 1 { 1 << CLAP_SURROUND_FC } else { bus.speakers };
    (0..u64::BITS as u8).filter(move |bit| speakers & (1 << bit) != 0)
}
