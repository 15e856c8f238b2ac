//! The double's entry point. The framework's macro would define the very symbol that the plugin's
//! library defines, and this program is linked with both.

#![allow(unsafe_code, reason = "what hosts call")]

use std::ffi::{CStr, c_char, c_void};
use std::sync::{Arc, OnceLock};

use nice_plug::wrapper::clap::{
    CLAP_PLUGIN_FACTORY_ID, CLAP_VERSION, PluginDescriptor, Wrapper, clap_host, clap_plugin,
    clap_plugin_descriptor, clap_plugin_entry, clap_plugin_factory,
};

use super::Double;

/// What a host finds in a module.
pub static ENTRY: clap_plugin_entry = clap_plugin_entry {
    clap_version: CLAP_VERSION,
    init: Some(init),
    deinit: Some(deinit),
    get_factory: Some(get_factory),
};

static FACTORY: clap_plugin_factory = clap_plugin_factory {
    get_plugin_count: Some(get_plugin_count),
    get_plugin_descriptor: Some(get_plugin_descriptor),
    create_plugin: Some(create_plugin),
};

extern "C" fn init(_path: *const c_char) -> bool {
    true
}

extern "C" fn deinit() {}

unsafe extern "C" fn get_factory(id: *const c_char) -> *const c_void {
    // SAFETY: the host passes a text that ends with a zero.
    if unsafe { CStr::from_ptr(id) } == CLAP_PLUGIN_FACTORY_ID {
        (&raw const FACTORY).cast()
    } else {
        std::ptr::null()
    }
}

unsafe extern "C" fn get_plugin_count(_factory: *const clap_plugin_factory) -> u32 {
    1
}

unsafe extern "C" fn get_plugin_descriptor(
    _factory: *const clap_plugin_factory,
    _index: u32,
) -> *const clap_plugin_descriptor {
    static DESCRIPTOR: OnceLock<PluginDescriptor> = OnceLock::new();
    DESCRIPTOR.get_or_init(PluginDescriptor::for_plugin::<Double>).clap_plugin_descriptor()
}

unsafe extern "C" fn create_plugin(
    _factory: *const clap_plugin_factory,
    host: *const clap_host,
    _id: *const c_char,
) -> *const clap_plugin {
    // SAFETY: the host passes a description of itself that outlives the instance; the reference is
    // given back when it destroys that.
    unsafe { (*Arc::into_raw(Wrapper::<Double>::new(host))).clap_plugin.as_ptr() }
}
