//! What the CLAP host offers to the plugin: which thread is which, and calls back on the main
//! thread.

use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::ThreadId;

use clack_extensions::gui::{GuiSize, HostGui, HostGuiImpl};
use clack_extensions::params::{
    HostParams, HostParamsImplMainThread, HostParamsImplShared, ParamClearFlags, ParamRescanFlags,
};
use clack_extensions::thread_check::{HostThreadCheck, HostThreadCheckImpl};
use clack_host::prelude::*;
use clack_host::utils::ClapId;

/// The host's handlers.
pub struct Callbacks;

impl HostHandlers for Callbacks {
    type Shared<'a> = Shared;
    type MainThread<'a> = MainThread;
    type AudioProcessor<'a> = ();

    fn declare_extensions(builder: &mut HostExtensions<Self>, _shared: &Shared) {
        builder.register::<HostThreadCheck>().register::<HostParams>().register::<HostGui>();
    }
}

/// What every thread of the plugin may call.
pub struct Shared {
    main_thread: ThreadId,
    callback_requested: AtomicBool,
}

impl Shared {
    /// Takes the calling thread for the main thread.
    pub fn on_this_thread() -> Self {
        Self {
            main_thread: std::thread::current().id(),
            callback_requested: AtomicBool::new(false),
        }
    }

    /// Whether the plugin asked for a call on the main thread since the last time.
    pub fn take_callback_request(&self) -> bool {
        self.callback_requested.swap(false, Ordering::AcqRel)
    }
}

impl SharedHandler<'_> for Shared {
    fn request_restart(&self) {}

    fn request_process(&self) {}

    fn request_callback(&self) {
        self.callback_requested.store(true, Ordering::Release);
    }
}

impl HostThreadCheckImpl for Shared {
    fn is_main_thread(&self) -> bool {
        std::thread::current().id() == self.main_thread
    }

    fn is_audio_thread(&self) -> bool {
        !self.is_main_thread()
    }
}

/// The host's window stays as it is.
impl HostGuiImpl for Shared {
    fn resize_hints_changed(&self) {}

    fn request_resize(&self, _size: GuiSize) -> Result<(), HostError> {
        Err(HostError::Message("this host's window does not change"))
    }

    fn request_show(&self) -> Result<(), HostError> {
        Ok(())
    }

    fn request_hide(&self) -> Result<(), HostError> {
        Ok(())
    }

    fn closed(&self, _was_destroyed: bool) {}
}

impl HostParamsImplShared for Shared {
    fn request_flush(&self) {}
}

/// What only the main thread of the plugin may call.
pub struct MainThread;

impl MainThreadHandler<'_> for MainThread {}

impl HostParamsImplMainThread for MainThread {
    fn rescan(&self, _flags: ParamRescanFlags) {}

    fn clear(&self, _parameter: ClapId, _flags: ParamClearFlags) {}
}
