//! Loading of a CLAP module from disk.
#![allow(unsafe_code, reason = "a shared library has to be loaded and trusted")]

use std::path::Path;

use clack_host::prelude::PluginEntry;

use crate::hosts::HostError;

/// Loads a module and initializes its entry.
pub fn load(path: &Path) -> Result<PluginEntry, HostError> {
    // SAFETY: the file is the plugin of this workspace, built for these tests; that it keeps the
    // format's rules is what they are about.
    unsafe { PluginEntry::load(path) }
        .map_err(|error| HostError::Module { path: path.into(), reason: error.to_string() })
}
