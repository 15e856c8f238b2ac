//! States, and parameters that the host sets while there are no blocks. What another version has
//! saved goes back to where it was ([`mark`]); what loading switches off is set to off, and told.

use std::ffi::c_void;
use std::sync::{Mutex, MutexGuard, PoisonError};

use nice_plug::wrapper::vst3::vst3::Steinberg::Vst::{
    IParamValueQueueTrait, IParameterChanges, IParameterChangesTrait, ParamID,
};
use nice_plug::wrapper::vst3::vst3::Steinberg::{
    IBStream, IBStreamTrait, int32, int64, kInvalidArgument, kNotImplemented, kResultOk, tresult,
};
use nice_plug::wrapper::vst3::vst3::{Class, ComRef, ComWrapper};

use crate::export::asked;
use crate::params::{LedgerlineParams, mark};

/// Sets to off what loading has switched off, and tells the host.
///
/// # Safety
///
/// `changes` is null or the host's for a block.
pub(super) unsafe fn settle(params: &LedgerlineParams, changes: *mut IParameterChanges) {
    asked::settle(params, |id| {
        let mut index = 0;
        // SAFETY: as promised by the caller; queues and points are the host's, for this block.
        unsafe {
            let Some(changes) = ComRef::from_raw(changes) else { return };
            let queue = changes.addParameterData(&raw const id, &raw mut index);
            if let Some(queue) = ComRef::from_raw(queue) {
                queue.addPoint(0, 0.0, &raw mut index);
            }
        }
    });
}

/// The host sets a parameter: what came with a state does not count any more.
pub(super) fn asked_for(params: &LedgerlineParams, id: ParamID) {
    for (which, _) in asked::REPLACING.into_iter().filter(|(_, replacing)| *replacing == id) {
        asked::settle_one(params, which);
    }
}

/// Saves by the framework's function, given here with a stream to write to.
///
/// # Safety
///
/// `stream` is null or the host's.
pub(super) unsafe fn save(
    stream: *mut IBStream,
    framework: impl FnOnce(*mut IBStream) -> tresult,
) -> tresult {
    // SAFETY: as promised by the caller.
    let Some(stream) = (unsafe { ComRef::from_raw(stream) }) else { return kInvalidArgument };
    let collector = ComWrapper::new(Collector::default());
    let Some(pointer) = collector.as_com_ref::<IBStream>() else { return kInvalidArgument };
    let result = framework(pointer.as_ptr());
    if result != kResultOk {
        return result;
    }
    let mut written = std::mem::take(&mut *collector.bytes());
    if let Some(json) = mark::unfolded(&written) {
        written = json;
    }
    let Ok(count) = i32::try_from(written.len()) else { return kInvalidArgument };
    // SAFETY: the stream is the host's, and reads no more bytes than there are.
    unsafe { stream.write(written.as_mut_ptr().cast(), count, std::ptr::null_mut()) }
}

/// Loads by the framework's function; meanwhile nothing replaces the output.
pub(super) fn load(params: &LedgerlineParams, framework: impl FnOnce() -> tresult) -> tresult {
    let held = &params.marker.held;
    held.set_loading(true);
    let result = framework();
    held.set_loading(false);
    result
}

/// A stream that can be written to from its start to its end, and nothing else.
#[derive(Default)]
struct Collector(Mutex<Vec<u8>>);

impl Collector {
    fn bytes(&self) -> MutexGuard<'_, Vec<u8>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Class for Collector {
    type Interfaces = (IBStream,);
}

impl IBStreamTrait for Collector {
    unsafe fn read(&self, _: *mut c_void, _: int32, _: *mut int32) -> tresult {
        kNotImplemented
    }

    unsafe fn write(&self, bytes: *mut c_void, count: int32, written: *mut int32) -> tresult {
        let Ok(length) = usize::try_from(count) else { return kInvalidArgument };
        // SAFETY: whoever writes passes so many bytes, and a place for the answer, or null.
        unsafe {
            self.bytes().extend_from_slice(std::slice::from_raw_parts(bytes.cast(), length));
            if let Some(written) = written.as_mut() {
                *written = count;
            }
        }
        kResultOk
    }

    unsafe fn seek(&self, _: int64, _: int32, _: *mut int64) -> tresult {
        kNotImplemented
    }

    unsafe fn tell(&self, _: *mut int64) -> tresult {
        kNotImplemented
    }
}
