//! Parameter changes of a block, as the plugin reads them.
#![allow(unsafe_code, reason = "the plugin hands over raw memory")]

use vst3::Steinberg::Vst::{
    IParamValueQueue, IParamValueQueueTrait, IParameterChanges, IParameterChangesTrait, ParamID,
    ParamValue,
};
use vst3::Steinberg::{kInvalidArgument, kResultOk, tresult};
use vst3::{Class, ComWrapper};

/// The changes of a block, one queue a parameter.
pub struct Changes(Vec<ComWrapper<Queue>>);

impl Changes {
    /// Changes from `(parameter, frame in the block, value)`, in order of time.
    pub fn new(points: impl IntoIterator<Item = (u32, i32, f64)>) -> ComWrapper<Self> {
        let mut queues: Vec<Queue> = Vec::new();
        for (id, frame, value) in points {
            match queues.iter_mut().find(|queue| queue.id == id) {
                Some(queue) => queue.points.push((frame, value)),
                None => queues.push(Queue { id, points: vec![(frame, value)] }),
            }
        }
        ComWrapper::new(Self(queues.into_iter().map(ComWrapper::new).collect()))
    }
}

impl Class for Changes {
    type Interfaces = (IParameterChanges,);
}

#[allow(non_snake_case, reason = "the API's names")]
impl IParameterChangesTrait for Changes {
    unsafe fn getParameterCount(&self) -> i32 {
        i32::try_from(self.0.len()).unwrap_or(i32::MAX)
    }

    unsafe fn getParameterData(&self, index: i32) -> *mut IParamValueQueue {
        usize::try_from(index)
            .ok()
            .and_then(|index| self.0.get(index)?.as_com_ref::<IParamValueQueue>())
            .map_or(std::ptr::null_mut(), |queue| queue.as_ptr())
    }

    unsafe fn addParameterData(
        &self,
        _id: *const ParamID,
        _index: *mut i32,
    ) -> *mut IParamValueQueue {
        // This host takes no changes back.
        std::ptr::null_mut()
    }
}

/// The changes of one parameter.
struct Queue {
    id: u32,
    points: Vec<(i32, f64)>,
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
        i32::try_from(self.points.len()).unwrap_or(i32::MAX)
    }

    unsafe fn getPoint(
        &self,
        index: i32,
        sampleOffset: *mut i32,
        value: *mut ParamValue,
    ) -> tresult {
        let point = usize::try_from(index).ok().and_then(|index| self.points.get(index));
        // SAFETY: the API's contract is that the pointers are null or valid.
        let targets = unsafe { (sampleOffset.as_mut(), value.as_mut()) };
        match (point, targets) {
            (Some(point), (Some(offset), Some(value))) => {
                (*offset, *value) = *point;
                kResultOk
            }
            _ => kInvalidArgument,
        }
    }

    unsafe fn addPoint(&self, _sampleOffset: i32, _value: ParamValue, _index: *mut i32) -> tresult {
        kInvalidArgument
    }
}
