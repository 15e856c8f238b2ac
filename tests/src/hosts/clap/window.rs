//! The plugin's window inside a window of the host's, on X11.
#![allow(unsafe_code, reason = "a window is handed over by its number")]

use clack_extensions::gui::{GuiApiType, GuiConfiguration, PluginGui, Window};

use super::ClapHost;
use crate::hosts::HostError;

impl ClapHost {
    /// Opens the plugin's window inside the window of this number, which has to stay until
    /// [`close_window`](Self::close_window).
    ///
    /// # Errors
    ///
    /// When the plugin has no window, or cannot open it.
    pub fn open_window(&mut self, parent: u32) -> Result<(), HostError> {
        let gui: PluginGui = self.extension().ok_or(HostError::Refused("window extension"))?;
        let handle = self.instance.plugin_handle();
        let embedded = GuiConfiguration { api_type: GuiApiType::X11, is_floating: false };
        gui.create(&handle, embedded).map_err(|_| HostError::Refused("making its window"))?;
        let parent = Window::from_x11_handle(parent.into());
        // SAFETY: the caller keeps the parent until the window is closed.
        unsafe { gui.set_parent(&handle, parent) }
            .map_err(|_| HostError::Refused("its parent window"))?;
        gui.show(&handle).map_err(|_| HostError::Refused("showing its window"))
    }

    /// Closes the plugin's window.
    pub fn close_window(&mut self) {
        if let Some(gui) = self.extension::<PluginGui>() {
            gui.destroy(&self.instance.plugin_handle());
        }
    }
}
