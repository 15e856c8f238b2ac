//! The VST3 entry points and the factory behind them. They are ours and not the framework's macro
//! because hosts get an [`instance`] of ours in front of the framework's.

mod component;
mod instance;
mod processor;
mod scale;
mod state;
#[cfg(target_os = "linux")]
mod worker;

use std::ffi::c_void;

use nice_plug::wrapper::vst3::PluginInfo;
use nice_plug::wrapper::vst3::vst3::Steinberg::{
    FIDString, FUnknown, IPluginFactory, IPluginFactory2, IPluginFactory2Trait, IPluginFactory3,
    IPluginFactory3Trait, IPluginFactoryTrait, PClassInfo, PClassInfo2, PClassInfoW, PFactoryInfo,
    TUID, int32, kInvalidArgument, kResultOk, tresult,
};
use nice_plug::wrapper::vst3::vst3::{Class, ComWrapper};

use crate::Ledgerline;
use instance::Instance;

/// Makes instances of the one plugin there is.
struct Factory {
    info: PluginInfo,
}

impl Class for Factory {
    type Interfaces = (IPluginFactory, IPluginFactory2, IPluginFactory3);
}

impl Factory {
    /// Writes what a host asks about the class at `index`, if there is one and a place to write to.
    ///
    /// # Safety
    ///
    /// `place` is null or can be written to.
    unsafe fn describe<T>(index: int32, place: *mut T, info: impl FnOnce() -> T) -> tresult {
        if index != 0 || place.is_null() {
            return kInvalidArgument;
        }
        // SAFETY: not null, and the caller promises the rest.
        unsafe { place.write(info()) };
        kResultOk
    }
}

impl IPluginFactoryTrait for Factory {
    unsafe fn getFactoryInfo(&self, info: *mut PFactoryInfo) -> tresult {
        // SAFETY: hosts pass a place for the answer.
        unsafe { Self::describe(0, info, || self.info.create_factory_info()) }
    }

    unsafe fn countClasses(&self) -> int32 {
        1
    }

    unsafe fn getClassInfo(&self, index: int32, info: *mut PClassInfo) -> tresult {
        // SAFETY: hosts pass a place for the answer.
        unsafe { Self::describe(index, info, || self.info.create_class_info()) }
    }

    unsafe fn createInstance(
        &self,
        cid: FIDString,
        iid: FIDString,
        obj: *mut *mut c_void,
    ) -> tresult {
        if cid.is_null() || iid.is_null() || obj.is_null() {
            return kInvalidArgument;
        }
        // SAFETY: hosts pass the 16 bytes of a class's id.
        if unsafe { &*cid.cast::<[u8; 16]>() } != self.info.cid {
            return kInvalidArgument;
        }
        #[cfg(target_os = "linux")]
        worker::keep();
        let Some(instance) = Instance::new().map(ComWrapper::new) else {
            return kInvalidArgument;
        };
        let Some(unknown) = instance.as_com_ref::<FUnknown>() else {
            return kInvalidArgument;
        };
        let unknown = unknown.as_ptr();
        // SAFETY: `instance` keeps the object alive during the call; on success the host holds a
        // reference of its own. Hosts pass the 16 bytes of an interface's id.
        unsafe { ((*(*unknown).vtbl).queryInterface)(unknown, iid.cast::<TUID>(), obj) }
    }
}

impl IPluginFactory2Trait for Factory {
    unsafe fn getClassInfo2(&self, index: int32, info: *mut PClassInfo2) -> tresult {
        // SAFETY: hosts pass a place for the answer.
        unsafe { Self::describe(index, info, || self.info.create_class_info_2()) }
    }
}

impl IPluginFactory3Trait for Factory {
    unsafe fn getClassInfoUnicode(&self, index: int32, info: *mut PClassInfoW) -> tresult {
        // SAFETY: hosts pass a place for the answer.
        unsafe { Self::describe(index, info, || self.info.create_class_info_unicode()) }
    }

    unsafe fn setHostContext(&self, _context: *mut FUnknown) -> tresult {
        kResultOk
    }
}

/// The factory, with a reference for the host.
#[unsafe(no_mangle)]
pub extern "system" fn GetPluginFactory() -> *mut c_void {
    let factory = ComWrapper::new(Factory { info: PluginInfo::for_plugin::<Ledgerline>() });
    match factory.to_com_ptr::<IPluginFactory>() {
        Some(factory) => factory.into_raw().cast(),
        None => std::ptr::null_mut(),
    }
}

/// Called when a host has loaded the library. Nothing is to be prepared.
#[cfg(all(unix, not(target_os = "macos")))]
#[unsafe(no_mangle)]
pub extern "C" fn ModuleEntry(_library: *mut c_void) -> bool {
    true
}

/// Called before a host unloads the library, when its instances are gone.
#[cfg(all(unix, not(target_os = "macos")))]
#[unsafe(no_mangle)]
pub extern "C" fn ModuleExit() -> bool {
    #[cfg(target_os = "linux")]
    worker::let_go();
    true
}

/// Called when a host has loaded the bundle. Nothing is to be prepared.
#[cfg(target_os = "macos")]
#[unsafe(no_mangle)]
pub extern "C" fn bundleEntry(_bundle: *mut c_void) -> bool {
    true
}

/// Called before a host unloads the bundle. Nothing is to be cleaned up.
#[cfg(target_os = "macos")]
#[unsafe(no_mangle)]
pub extern "C" fn bundleExit() -> bool {
    true
}

/// Called when a host has loaded the library. Nothing is to be prepared.
#[cfg(windows)]
#[unsafe(no_mangle)]
pub extern "system" fn InitDll() -> bool {
    true
}

/// Called before a host unloads the library. Nothing is to be cleaned up.
#[cfg(windows)]
#[unsafe(no_mangle)]
pub extern "system" fn ExitDll() -> bool {
    true
}
