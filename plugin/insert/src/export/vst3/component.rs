//! The instance's buses and states. The side-chain is announced here; the framework knows of the
//! main bus alone.

use std::sync::atomic::Ordering;

use nice_plug::wrapper::vst3::Wrapper;
use nice_plug::wrapper::vst3::vst3::Steinberg::Vst::{
    BusDirection, BusDirections_, BusInfo, BusInfo_, BusTypes_, IComponentTrait, IoMode, MediaType,
    MediaTypes_, RoutingInfo,
};
use nice_plug::wrapper::vst3::vst3::Steinberg::{
    IBStream, TBool, TUID, int32, kInvalidArgument, kResultOk, tresult,
};

use super::instance::{Instance, hand_on};
use super::state;
use crate::Ledgerline;

/// Position of the side-chain among the inputs.
pub(super) const SIDE_CHAIN: int32 = 1;
/// Inputs: the main bus and the side-chain.
pub(super) const INPUTS: int32 = 2;

/// What the side-chain is called.
const SIDE_CHAIN_NAME: &str = "Side-chain";

impl Instance {
    /// Whether this is about audio inputs.
    #[allow(clippy::unnecessary_cast, reason = "the type of the constants differs by system")]
    fn is_audio_input(kind: MediaType, direction: BusDirection) -> bool {
        kind == MediaTypes_::kAudio as MediaType && is_input(direction)
    }

    #[allow(clippy::unnecessary_cast, reason = "the type of the constants differs by system")]
    fn side_chain_info(&self) -> BusInfo {
        let mut name = [0; 128];
        for (slot, unit) in name.iter_mut().zip(SIDE_CHAIN_NAME.encode_utf16()) {
            *slot = unit as _;
        }
        BusInfo {
            mediaType: MediaTypes_::kAudio as MediaType,
            direction: BusDirections_::kInput as BusDirection,
            channelCount: self.link.side_channels() as int32,
            name,
            busType: BusTypes_::kAux as i32,
            flags: BusInfo_::BusFlags_::kDefaultActive as u32,
        }
    }
}

/// Whether a direction is that of inputs.
#[allow(clippy::unnecessary_cast, reason = "the type of the constants differs by system")]
pub(super) fn is_input(direction: BusDirection) -> bool {
    direction == BusDirections_::kInput as BusDirection
}

impl IComponentTrait for Instance {
    hand_on! { IComponentTrait {
        getControllerClassId(id: *mut TUID) -> tresult;
        setIoMode(mode: IoMode) -> tresult;
        getRoutingInfo(from: *mut RoutingInfo, to: *mut RoutingInfo) -> tresult;
    } }

    unsafe fn setState(&self, stream: *mut IBStream) -> tresult {
        state::load(self.link.params(), || {
            // SAFETY: the argument is the host's, for the framework's function of this name.
            unsafe { IComponentTrait::setState(&self.framework, stream) }
        })
    }

    unsafe fn getState(&self, stream: *mut IBStream) -> tresult {
        // SAFETY: the stream is the host's, or null; the framework writes to the one it is given.
        unsafe { state::save(stream, |stream| IComponentTrait::getState(&self.framework, stream)) }
    }

    unsafe fn getBusCount(&self, kind: MediaType, direction: BusDirection) -> int32 {
        if Self::is_audio_input(kind, direction) {
            return INPUTS;
        }
        // SAFETY: the framework's function of this name takes any arguments.
        unsafe { IComponentTrait::getBusCount(&self.framework, kind, direction) }
    }

    unsafe fn getBusInfo(
        &self,
        kind: MediaType,
        direction: BusDirection,
        index: int32,
        info: *mut BusInfo,
    ) -> tresult {
        if Self::is_audio_input(kind, direction) && index == SIDE_CHAIN {
            // SAFETY: hosts pass a place for the answer, or null.
            let Some(info) = (unsafe { info.as_mut() }) else { return kInvalidArgument };
            *info = self.side_chain_info();
            return kResultOk;
        }
        if index < 0 {
            return kInvalidArgument;
        }
        // SAFETY: the arguments are the host's, for the framework's function of this name.
        unsafe { IComponentTrait::getBusInfo(&self.framework, kind, direction, index, info) }
    }

    unsafe fn activateBus(
        &self,
        kind: MediaType,
        direction: BusDirection,
        index: int32,
        state: TBool,
    ) -> tresult {
        // A side-chain that is off comes without channels, and is silent then.
        if Self::is_audio_input(kind, direction) && index == SIDE_CHAIN {
            return kResultOk;
        }
        // SAFETY: the framework's function of this name takes any arguments.
        unsafe { IComponentTrait::activateBus(&self.framework, kind, direction, index, state) }
    }

    unsafe fn setActive(&self, state: TBool) -> tresult {
        if state != 0 {
            self.link.prepare_side_chain(self.most_frames.load(Ordering::Relaxed));
        }
        // SAFETY: the framework's function of this name takes any argument.
        let result = unsafe { IComponentTrait::setActive(&self.framework, state) };
        self.active.store(state != 0 && result == kResultOk, Ordering::Relaxed);
        result
    }
}
