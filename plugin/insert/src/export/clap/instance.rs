//! An instance as hosts see it, with the framework's own functions beside those that hosts get.

use std::ffi::CStr;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, OnceLock};

use clap_sys::ext::gui::clap_plugin_gui;
use clap_sys::ext::params::clap_plugin_params;
use clap_sys::host::clap_host;
use clap_sys::plugin::clap_plugin;

use crate::host_link::HostLink;

/// One instance.
#[repr(C)]
pub(super) struct Instance {
    /// What the host has. It comes first, so that a pointer to it leads to all the rest.
    pub(super) plugin: clap_plugin,
    /// The framework's functions.
    pub(super) framework: clap_plugin,
    pub(super) host: *const clap_host,
    pub(super) link: Arc<HostLink>,
    /// Whether the host has activated it.
    pub(super) active: AtomicBool,
    /// The window's functions, once the host has asked for them.
    pub(super) gui: OnceLock<clap_plugin_gui>,
    /// The functions about parameters, once the host has asked for them.
    pub(super) params_table: OnceLock<clap_plugin_params>,
}

impl Instance {
    /// The instance that a host speaks of.
    ///
    /// # Safety
    ///
    /// `plugin` is null or what [`create`](super::calls::create) has made, and is not destroyed during the
    /// call in which this is used.
    pub(super) unsafe fn of<'a>(plugin: *const clap_plugin) -> Option<&'a Self> {
        // SAFETY: as promised by the caller; `plugin` comes first in the instance.
        unsafe { plugin.cast::<Self>().as_ref() }
    }

    /// Whether the host has activated it.
    pub(super) fn is_active(&self) -> bool {
        self.active.load(Ordering::Relaxed)
    }

    /// One of the framework's extensions: a table of functions that lives as long as the instance.
    pub(super) fn framework_extension<T>(&self, id: &CStr) -> Option<&T> {
        let get = self.framework.get_extension?;
        // SAFETY: the framework is given its own instance's data and a text that ends with a zero;
        // the table for the id, if there is one, has the type that the format says.
        unsafe { get(&raw const self.plugin, id.as_ptr()).cast::<T>().as_ref() }
    }

    /// What the framework's functions know the instance by.
    pub(super) fn plugin(&self) -> *const clap_plugin {
        &raw const self.plugin
    }
}
