//! The audio ports. The side-chain is announced here; the framework knows of the main bus alone.

use std::ffi::{CStr, c_char};

use clap_sys::ext::audio_ports::{
    CLAP_AUDIO_PORT_IS_MAIN, CLAP_PORT_MONO, CLAP_PORT_STEREO, clap_audio_port_info,
    clap_plugin_audio_ports,
};
use clap_sys::ext::surround::CLAP_PORT_SURROUND;
use clap_sys::id::{CLAP_INVALID_ID, clap_id};
use clap_sys::plugin::clap_plugin;
use clap_sys::string_sizes::CLAP_NAME_SIZE;

use super::instance::Instance;

/// Positions among the inputs.
pub(super) const INPUT: u32 = 0;
pub(super) const SIDE_CHAIN: u32 = 1;

/// The ports' ids.
const INPUT_ID: clap_id = 0;
const SIDE_CHAIN_ID: clap_id = 1;
const OUTPUT_ID: clap_id = 2;

pub(super) static TABLE: clap_plugin_audio_ports =
    clap_plugin_audio_ports { count: Some(count), get: Some(get) };

/// How many ports there are on one side.
pub(super) fn port_count(is_input: bool, side_channels: usize) -> u32 {
    if is_input && side_channels > 0 { 2 } else { 1 }
}

/// A port of a bus of `main` channels with a side-chain of `side_channels`.
pub(super) fn port(
    index: u32,
    is_input: bool,
    main: usize,
    side_channels: usize,
) -> Option<clap_audio_port_info> {
    if index >= port_count(is_input, side_channels) {
        return None;
    }
    let is_side_chain = is_input && index == SIDE_CHAIN;
    let (id, label, channels, pair) = match (is_input, is_side_chain) {
        (_, true) => (SIDE_CHAIN_ID, "Side-chain", side_channels, CLAP_INVALID_ID),
        (true, _) => (INPUT_ID, "Input", main, OUTPUT_ID),
        (false, _) => (OUTPUT_ID, "Output", main, INPUT_ID),
    };
    Some(clap_audio_port_info {
        id,
        name: name(label),
        flags: if is_side_chain { 0 } else { CLAP_AUDIO_PORT_IS_MAIN },
        channel_count: channels as u32,
        port_type: port_type(channels).as_ptr(),
        in_place_pair: pair,
    })
}

/// What the format calls a port of so many channels.
pub(super) fn port_type(channels: usize) -> &'static CStr {
    match channels {
        1 => CLAP_PORT_MONO,
        2 => CLAP_PORT_STEREO,
        _ => CLAP_PORT_SURROUND,
    }
}

/// A text as the format's structures hold it.
pub(super) fn name(text: &str) -> [c_char; CLAP_NAME_SIZE] {
    let mut name = [0; CLAP_NAME_SIZE];
    for (slot, byte) in name[..CLAP_NAME_SIZE - 1].iter_mut().zip(text.bytes()) {
        *slot = byte as c_char;
    }
    name
}

unsafe extern "C" fn count(plugin: *const clap_plugin, is_input: bool) -> u32 {
    // SAFETY: the host speaks of its instance.
    let Some(instance) = (unsafe { Instance::of(plugin) }) else { return 0 };
    port_count(is_input, instance.link.side_channels())
}

unsafe extern "C" fn get(
    plugin: *const clap_plugin,
    index: u32,
    is_input: bool,
    info: *mut clap_audio_port_info,
) -> bool {
    // SAFETY: the host speaks of its instance, and passes a place for the answer, or null.
    let (Some(instance), Some(info)) = (unsafe { (Instance::of(plugin), info.as_mut()) }) else {
        return false;
    };
    let link = &instance.link;
    let Some(found) = port(index, is_input, link.main_bus().channels(), link.side_channels())
    else {
        return false;
    };
    *info = found;
    true
}
