//! The configurations of audio ports from which a host can choose, and what each has.

use clap_sys::ext::audio_ports::clap_audio_port_info;
use clap_sys::ext::audio_ports_config::{
    CLAP_EXT_AUDIO_PORTS_CONFIG, clap_audio_ports_config, clap_plugin_audio_ports_config,
    clap_plugin_audio_ports_config_info,
};
use clap_sys::id::{CLAP_INVALID_ID, clap_id};
use clap_sys::plugin::clap_plugin;

use super::instance::Instance;
use super::ports::{name, port, port_count, port_type};
use crate::layouts::{MAIN_BUSES, MainBus, main_bus};

/// A main bus beside a side-chain. A configuration's id is its place in [`ALL`].
struct Configuration {
    name: &'static str,
    main: usize,
    side_chain: usize,
}

/// Every configuration. The first is what hosts get that do not choose. Ids do not change: new ones
/// come at the end.
const ALL: [Configuration; 11] = [
    of("Stereo with side-chain", 2, 2),
    of("Stereo", 2, 0),
    of("Mono", 1, 0),
    of("Mono with side-chain", 1, 1),
    of("Mono with stereo side-chain", 1, 2),
    of("Stereo with mono side-chain", 2, 1),
    of("LCR", 3, 0),
    of("Quad", 4, 0),
    of("5.1", 6, 0),
    of("7.1", 8, 0),
    of("7.1.4", 12, 0),
];

const fn of(name: &'static str, main: usize, side_chain: usize) -> Configuration {
    Configuration { name, main, side_chain }
}

pub(super) static TABLE: clap_plugin_audio_ports_config =
    clap_plugin_audio_ports_config { count: Some(count), get: Some(get), select: Some(select) };

pub(super) static INFO_TABLE: clap_plugin_audio_ports_config_info =
    clap_plugin_audio_ports_config_info { current_config: Some(current), get: Some(get_port) };

unsafe extern "C" fn count(_plugin: *const clap_plugin) -> u32 {
    ALL.len() as u32
}

unsafe extern "C" fn get(
    _plugin: *const clap_plugin,
    index: u32,
    answer: *mut clap_audio_ports_config,
) -> bool {
    // SAFETY: hosts pass a place for the answer, or null.
    let (Some(found), Some(answer)) = (ALL.get(index as usize), unsafe { answer.as_mut() }) else {
        return false;
    };
    let main_type = port_type(found.main).as_ptr();
    *answer = clap_audio_ports_config {
        id: index,
        name: name(found.name),
        input_port_count: port_count(true, found.side_chain),
        output_port_count: port_count(false, found.side_chain),
        has_main_input: true,
        main_input_channel_count: found.main as u32,
        main_input_port_type: main_type,
        has_main_output: true,
        main_output_channel_count: found.main as u32,
        main_output_port_type: main_type,
    };
    true
}

unsafe extern "C" fn select(plugin: *const clap_plugin, id: clap_id) -> bool {
    // SAFETY: the host speaks of its instance.
    let Some(instance) = (unsafe { Instance::of(plugin) }) else { return false };
    let Some(wanted) = ALL.get(id as usize) else { return false };
    // Blocks may be on their way to an active instance.
    if instance.is_active() {
        return false;
    }
    main_bus(wanted.main).is_some_and(|main| choose(instance, main, wanted.side_chain))
}

/// Takes over what the host has chosen.
pub(super) fn choose(instance: &Instance, main: &MainBus, side_channels: usize) -> bool {
    let framework: Option<&clap_plugin_audio_ports_config> =
        instance.framework_extension(CLAP_EXT_AUDIO_PORTS_CONFIG);
    let select = framework.and_then(|framework| framework.select);
    let index = MAIN_BUSES.iter().position(|bus| bus == main);
    let (Some(select), Some(index)) = (select, index) else { return false };
    // SAFETY: the framework is given its own instance's data; its ids are places in `layouts::ALL`,
    // which has the order of the main buses.
    let selected = unsafe { select(instance.plugin(), index as clap_id) };
    if selected {
        instance.link.choose_buses(main, side_channels);
    }
    selected
}

unsafe extern "C" fn current(plugin: *const clap_plugin) -> clap_id {
    // SAFETY: the host speaks of its instance.
    let Some(instance) = (unsafe { Instance::of(plugin) }) else { return CLAP_INVALID_ID };
    let (main, side_chain) = (instance.link.main_bus().channels(), instance.link.side_channels());
    ALL.iter()
        .position(|one| one.main == main && one.side_chain == side_chain)
        .map_or(CLAP_INVALID_ID, |index| index as clap_id)
}

unsafe extern "C" fn get_port(
    _plugin: *const clap_plugin,
    id: clap_id,
    index: u32,
    is_input: bool,
    answer: *mut clap_audio_port_info,
) -> bool {
    let found = ALL.get(id as usize);
    let port = found.and_then(|one| port(index, is_input, one.main, one.side_chain));
    // SAFETY: hosts pass a place for the answer, or null.
    let (Some(port), Some(answer)) = (port, unsafe { answer.as_mut() }) else { return false };
    *answer = port;
    true
}
