//! Parameter changes that the plugin makes itself, as this host takes them.
#![allow(unsafe_code, reason = "the plugin hands over raw memory")]

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use vst3::Steinberg::Vst::{
    IParamValueQueue, IParamValueQueueTrait, IParameterChanges, IParameterChangesTrait, ParamID,
    ParamValue,
};
use vst3::Steinberg::{kInvalidArgument, kResultOk, tresult};
use vst3::{Class, ComWrapper};

/// What was told, and the queues that were handed out for it.
#[derive(Default)]
pub struct Told {
    points: Arc<Mutex<Vec<(u32, f64)>>>,
    queues: Mutex<Vec<ComWrapper<Queue>>>,
}

impl Told {
    /// Every point in order, with its parameter.
    pub fn points(&self) -> Vec<(u32, f64)> {
        lock(&self.points).clone()
    }
}

impl Class for Told {
    type Interfaces = (IParameterChanges,);
}

#[allow(non_snake_case, reason = "the API's names")]
impl IParameterChangesTrait for Told {
    unsafe fn getParameterCount(&self) -> i32 {
        i32::try_from(lock(&self.queues).len()).unwrap_or(i32::MAX)
    }

    unsafe fn getParameterData(&self, _index: i32) -> *mut IParamValueQueue {
        // The plugin has no business reading what it wrote.
        std::ptr::null_mut()
    }

    unsafe fn addParameterData(&self, id: *const ParamID, _: *mut i32) -> *mut IParamValueQueue {
        // SAFETY: the API's contract is that the pointer is null or valid.
        let Some(id) = (unsafe { id.as_ref() }) else { return std::ptr::null_mut() };
        let queue = ComWrapper::new(Queue { id: *id, points: self.points.clone() });
        let pointer = queue.as_com_ref::<IParamValueQueue>().expect("its own interface").as_ptr();
        lock(&self.queues).push(queue);
        pointer
    }
}

struct Queue {
    id: u32,
    points: Arc<Mutex<Vec<(u32, f64)>>>,
}

impl Class for Queue {
    type Interfaces = (IParamValueQueue,);
}

#[allow(non_snake_case, reason = "the API's names")]
impl IParamValueQueueTrait for Queue {
    unsafe fn getParameterId(&self) -> ParamID {
        self.id
    }

    unsafe fn getPointCount(&self) -> i32 {
        0
    }

    unsafe fn getPoint(&self, _: i32, _: *mut i32, _: *mut ParamValue) -> tresult {
        kInvalidArgument
    }

    unsafe fn addPoint(&self, _: i32, value: ParamValue, _: *mut i32) -> tresult {
        lock(&self.points).push((self.id, value));
        kResultOk
    }
}

fn lock<T>(shared: &Mutex<T>) -> MutexGuard<'_, T> {
    shared.lock().unwrap_or_else(PoisonError::into_inner)
}
