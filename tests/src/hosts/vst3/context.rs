//! What the VST3 host offers to the plugin: its name, and an ear for edits.
#![allow(unsafe_code, reason = "the plugin hands over raw memory")]

use std::ffi::c_void;

use vst3::Class;
use vst3::Steinberg::Vst::{
    IComponentHandler, IComponentHandlerTrait, IHostApplication, IHostApplicationTrait, ParamID,
    ParamValue, String128,
};
use vst3::Steinberg::{TUID, kInvalidArgument, kNoInterface, kResultOk, tresult};

/// The host's name, as the plugin may ask for it.
const NAME: &str = "Ledgerline tests";

/// The host itself.
pub struct Application;

impl Class for Application {
    type Interfaces = (IHostApplication,);
}

#[allow(non_snake_case, reason = "the API's names")]
impl IHostApplicationTrait for Application {
    unsafe fn getName(&self, name: *mut String128) -> tresult {
        // SAFETY: the API's contract is that the pointer is null or valid.
        let Some(name) = (unsafe { name.as_mut() }) else {
            return kInvalidArgument;
        };
        name.fill(0);
        for (target, character) in name.iter_mut().zip(NAME.encode_utf16()) {
            *target = character;
        }
        kResultOk
    }

    unsafe fn createInstance(
        &self,
        _cid: *mut TUID,
        _iid: *mut TUID,
        _obj: *mut *mut c_void,
    ) -> tresult {
        kNoInterface
    }
}

/// The ear for edits.
pub struct Handler;

impl Class for Handler {
    type Interfaces = (IComponentHandler,);
}

#[allow(non_snake_case, reason = "the API's names")]
impl IComponentHandlerTrait for Handler {
    unsafe fn beginEdit(&self, _id: ParamID) -> tresult {
        kResultOk
    }

    unsafe fn performEdit(&self, _id: ParamID, _valueNormalized: ParamValue) -> tresult {
        kResultOk
    }

    unsafe fn endEdit(&self, _id: ParamID) -> tresult {
        kResultOk
    }

    unsafe fn restartComponent(&self, _flags: i32) -> tresult {
        kResultOk
    }
}
