//! Buses that a host asks for port by port, where none of the configurations is named.

use std::ffi::CStr;

use clap_sys::ext::configurable_audio_ports::{
    clap_audio_port_configuration_request, clap_plugin_configurable_audio_ports,
};
use clap_sys::ext::surround::CLAP_PORT_SURROUND;
use clap_sys::plugin::clap_plugin;

use super::instance::Instance;
use super::ports::{INPUT, port_count, port_type};
use super::ports_config::choose;
use super::surround::speakers_in_order;
use crate::layouts::{MOST_SIDE_CHANNELS, MainBus, main_bus};

pub(super) static TABLE: clap_plugin_configurable_audio_ports =
    clap_plugin_configurable_audio_ports {
        can_apply_configuration: Some(can_apply),
        apply_configuration: Some(apply),
    };

/// The buses that all requests together ask for; what none of them names stays. `None` where they
/// are not offered: input and output of the main bus are of one shape.
///
/// # Safety
///
/// The texts and channel maps of the requests are null or as the format says.
unsafe fn wanted(
    instance: &Instance,
    requests: &[clap_audio_port_configuration_request],
) -> Option<(&'static MainBus, usize)> {
    let mut side_channels = instance.link.side_channels();
    let mut main = None;
    for request in requests {
        if request.port_index >= port_count(request.is_input, instance.link.side_channels()) {
            return None;
        }
        let channels = request.channel_count as usize;
        // SAFETY: as promised by the caller.
        if !unsafe { is_of_our_shape(request) } {
            return None;
        }
        if request.port_index != INPUT {
            side_channels =
                Some(channels).filter(|wanted| (1..=MOST_SIDE_CHANNELS).contains(wanted))?;
        } else if main.is_none_or(|other| other == channels) {
            main = Some(channels);
        } else {
            return None;
        }
    }
    let main = main.unwrap_or(instance.link.main_bus().channels());
    Some((main_bus(main)?, side_channels))
}

/// Whether a port asked for has the type and the loudspeakers that ours of so many channels has.
///
/// # Safety
///
/// As for [`wanted`].
unsafe fn is_of_our_shape(request: &clap_audio_port_configuration_request) -> bool {
    let channels = request.channel_count as usize;
    if request.port_type.is_null() {
        return true;
    }
    // SAFETY: not null, so a text that ends with a zero.
    let wanted = unsafe { CStr::from_ptr(request.port_type) };
    if wanted != port_type(channels) {
        return false;
    }
    let map = request.port_details.cast::<u8>();
    if wanted != CLAP_PORT_SURROUND || map.is_null() {
        return true;
    }
    // SAFETY: the details of a surround port are a map of as many channels as are asked for.
    let map = unsafe { std::slice::from_raw_parts(map, channels) };
    main_bus(channels).is_some_and(|bus| speakers_in_order(bus).eq(map.iter().copied()))
}

/// What a host asks for, where the arguments are complete.
///
/// # Safety
///
/// The arguments are a host's, for the functions of this extension.
unsafe fn asked<'a>(
    plugin: *const clap_plugin,
    requests: *const clap_audio_port_configuration_request,
    count: u32,
) -> Option<(&'a Instance, &'static MainBus, usize)> {
    // SAFETY: the host speaks of its instance.
    let instance = unsafe { Instance::of(plugin) }?;
    // Blocks may be on their way to an active instance.
    if requests.is_null() || instance.is_active() {
        return None;
    }
    // SAFETY: hosts pass as many requests as they state, with what each states.
    let (main, side_channels) =
        unsafe { wanted(instance, std::slice::from_raw_parts(requests, count as usize)) }?;
    Some((instance, main, side_channels))
}

unsafe extern "C" fn can_apply(
    plugin: *const clap_plugin,
    requests: *const clap_audio_port_configuration_request,
    count: u32,
) -> bool {
    // SAFETY: the arguments are the host's, for this very function.
    unsafe { asked(plugin, requests, count) }.is_some()
}

unsafe extern "C" fn apply(
    plugin: *const clap_plugin,
    requests: *const clap_audio_port_configuration_request,
    count: u32,
) -> bool {
    // SAFETY: the arguments are the host's, for this very function.
    unsafe { asked(plugin, requests, count) }
        .is_some_and(|(instance, main, side_channels)| choose(instance, main, side_channels))
}
