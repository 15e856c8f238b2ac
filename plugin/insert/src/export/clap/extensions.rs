//! The extensions that are ours: ports ([`ports`], [`ports_config`], [`configurable`],
//! [`surround`]), the mode of rendering, the window's scale, states and parameters ([`state`]). All
//! others are the framework's.

use std::ffi::{CStr, c_void};

use clap_sys::ext::audio_ports::CLAP_EXT_AUDIO_PORTS;
use clap_sys::ext::audio_ports_config::{
    CLAP_EXT_AUDIO_PORTS_CONFIG, CLAP_EXT_AUDIO_PORTS_CONFIG_INFO,
    CLAP_EXT_AUDIO_PORTS_CONFIG_INFO_COMPAT,
};
use clap_sys::ext::configurable_audio_ports::{
    CLAP_EXT_CONFIGURABLE_AUDIO_PORTS, CLAP_EXT_CONFIGURABLE_AUDIO_PORTS_COMPAT,
};
use clap_sys::ext::gui::{CLAP_EXT_GUI, clap_plugin_gui};
use clap_sys::ext::render::{
    CLAP_EXT_RENDER, CLAP_RENDER_OFFLINE, clap_plugin_render, clap_plugin_render_mode,
};
use clap_sys::ext::surround::{CLAP_EXT_SURROUND, CLAP_EXT_SURROUND_COMPAT};
use clap_sys::plugin::clap_plugin;

use super::instance::Instance;
use super::{configurable, ports, ports_config, state, surround};

/// An extension of ours.
pub(super) fn own(instance: &Instance, id: &CStr) -> Option<*const c_void> {
    let config_info = [CLAP_EXT_AUDIO_PORTS_CONFIG_INFO, CLAP_EXT_AUDIO_PORTS_CONFIG_INFO_COMPAT];
    let configurable =
        [CLAP_EXT_CONFIGURABLE_AUDIO_PORTS, CLAP_EXT_CONFIGURABLE_AUDIO_PORTS_COMPAT];
    let surround = [CLAP_EXT_SURROUND, CLAP_EXT_SURROUND_COMPAT];
    if id == CLAP_EXT_AUDIO_PORTS {
        Some((&raw const ports::TABLE).cast())
    } else if id == CLAP_EXT_AUDIO_PORTS_CONFIG {
        Some((&raw const ports_config::TABLE).cast())
    } else if config_info.contains(&id) {
        Some((&raw const ports_config::INFO_TABLE).cast())
    } else if configurable.contains(&id) {
        Some((&raw const configurable::TABLE).cast())
    } else if surround.contains(&id) {
        Some((&raw const surround::TABLE).cast())
    } else if id == CLAP_EXT_RENDER {
        Some((&raw const RENDER).cast())
    } else if id == CLAP_EXT_GUI {
        let framework = instance.framework_extension::<clap_plugin_gui>(CLAP_EXT_GUI)?;
        let gui = clap_plugin_gui { set_scale: Some(set_scale), ..*framework };
        Some(std::ptr::from_ref(instance.gui.get_or_init(|| gui)).cast())
    } else {
        state::extension(instance, id)
    }
}

/// The framework acts on a new mode at the next activation only; ours acts on the next block.
static RENDER: clap_plugin_render = clap_plugin_render {
    has_hard_realtime_requirement: Some(has_hard_realtime_requirement),
    set: Some(set_mode),
};

unsafe extern "C" fn has_hard_realtime_requirement(_plugin: *const clap_plugin) -> bool {
    false
}

unsafe extern "C" fn set_mode(plugin: *const clap_plugin, mode: clap_plugin_render_mode) -> bool {
    // SAFETY: the host speaks of its instance.
    let Some(instance) = (unsafe { Instance::of(plugin) }) else { return false };
    instance.link.set_offline(mode == CLAP_RENDER_OFFLINE);
    true
}

/// The framework refuses a scale while there is no window, and forgets it; we keep it.
unsafe extern "C" fn set_scale(plugin: *const clap_plugin, scale: f64) -> bool {
    // SAFETY: the host speaks of its instance.
    let Some(instance) = (unsafe { Instance::of(plugin) }) else { return false };
    if !instance.link.set_scale(scale) {
        return false;
    }
    let framework = instance.framework_extension::<clap_plugin_gui>(CLAP_EXT_GUI);
    if let Some(set_scale) = framework.and_then(|gui| gui.set_scale) {
        // SAFETY: the arguments are the host's, for the framework's function of this name.
        unsafe { set_scale(plugin, scale) };
    }
    true
}
