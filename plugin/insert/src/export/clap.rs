//! The CLAP entry point, `clap_entry`, and the factory behind it. They are ours and not the
//! framework's macro because hosts get an [`instance`] of ours in front of the framework's.

mod calls;
mod configurable;
mod extensions;
mod instance;
mod ports;
mod ports_config;
mod state;
mod surround;

use std::ffi::{CStr, c_char, c_void};
use std::sync::OnceLock;

use nice_plug::wrapper::clap::{
    CLAP_PLUGIN_FACTORY_ID, CLAP_VERSION, PluginDescriptor, clap_host, clap_plugin,
    clap_plugin_descriptor, clap_plugin_entry, clap_plugin_factory,
};
use nice_plug::wrapper::setup_logger;

use crate::Ledgerline;

/// What hosts look for.
#[unsafe(no_mangle)]
#[used]
#[allow(non_upper_case_globals, reason = "the format's name")]
pub static clap_entry: clap_plugin_entry = clap_plugin_entry {
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

/// The description of the one plugin there is.
fn descriptor() -> &'static PluginDescriptor {
    static DESCRIPTOR: OnceLock<PluginDescriptor> = OnceLock::new();
    DESCRIPTOR.get_or_init(PluginDescriptor::for_plugin::<Ledgerline>)
}

extern "C" fn init(_path: *const c_char) -> bool {
    setup_logger::<Ledgerline>();
    true
}

extern "C" fn deinit() {}

unsafe extern "C" fn get_factory(id: *const c_char) -> *const c_void {
    // SAFETY: hosts pass a text that ends with a zero, or null.
    if !id.is_null() && unsafe { CStr::from_ptr(id) } == CLAP_PLUGIN_FACTORY_ID {
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
    index: u32,
) -> *const clap_plugin_descriptor {
    if index == 0 { descriptor().clap_plugin_descriptor() } else { std::ptr::null() }
}

unsafe extern "C" fn create_plugin(
    _factory: *const clap_plugin_factory,
    host: *const clap_host,
    id: *const c_char,
) -> *const clap_plugin {
    if host.is_null() || id.is_null() {
        return std::ptr::null();
    }
    // SAFETY: hosts pass a text that ends with a zero.
    if unsafe { CStr::from_ptr(id) } != descriptor().clap_id() {
        return std::ptr::null();
    }
    // SAFETY: hosts pass a description of themselves that outlives the instance.
    unsafe { calls::create(host) }
}
