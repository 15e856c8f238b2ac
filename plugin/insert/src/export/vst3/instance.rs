//! An instance as hosts see it: the framework's, behind functions of ours where the framework
//! (nice-plug 0.4.2) differs from what hosts may expect. Here is what is handed on as it comes;
//! [`component`](super::component) and [`processor`](super::processor) hold the rest.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize};

use nice_plug::wrapper::vst3::Wrapper;
use nice_plug::wrapper::vst3::vst3::Class;
use nice_plug::wrapper::vst3::vst3::Steinberg::Vst::ChannelContext::{
    IInfoListener, IInfoListenerTrait,
};
use nice_plug::wrapper::vst3::vst3::Steinberg::Vst::{
    BusDirection, CString, IAttributeList, IAudioProcessor, IComponent, IComponentHandler,
    IEditController, IEditControllerTrait, IProcessContextRequirements,
    IProcessContextRequirementsTrait, IUnitInfo, IUnitInfoTrait, MediaType, ParamID, ParamValue,
    ParameterInfo, ProgramListID, ProgramListInfo, String128, TChar, UnitID, UnitInfo,
};
use nice_plug::wrapper::vst3::vst3::Steinberg::{
    FIDString, FUnknown, IBStream, IPlugView, IPluginBaseTrait, int16, int32, kInvalidArgument,
    kResultOk, tresult, uint32,
};

use super::{scale, state};
use crate::Ledgerline;
use crate::export::texts;
use crate::host_link::HostLink;

/// One instance.
pub(super) struct Instance {
    pub(super) framework: Wrapper<Ledgerline>,
    pub(super) link: Arc<HostLink>,
    /// Whether the host has activated it.
    pub(super) active: AtomicBool,
    /// Longest block that the host has announced, in frames; 0 before it has.
    pub(super) most_frames: AtomicUsize,
}

impl Instance {
    /// A new instance; `None` where the framework makes no plugin.
    pub(super) fn new() -> Option<Self> {
        let framework = Wrapper::new();
        Some(Self {
            framework,
            link: HostLink::newest()?,
            active: AtomicBool::new(false),
            most_frames: AtomicUsize::new(0),
        })
    }
}

impl Class for Instance {
    // Not among them: what is about notes, of which there are none.
    type Interfaces = (
        IComponent,
        IEditController,
        IAudioProcessor,
        IProcessContextRequirements,
        IUnitInfo,
        IInfoListener,
    );
}

/// Functions of an interface that are the framework's.
macro_rules! hand_on {
    ($interface:ident { $($name:ident($($argument:ident: $type:ty),*) $(-> $answer:ty)?;)* }) => {
        $(
            unsafe fn $name(&self, $($argument: $type),*) $(-> $answer)? {
                // SAFETY: the arguments are the host's, for this very function.
                unsafe {
                    <Wrapper<Ledgerline> as $interface>::$name(&self.framework, $($argument),*)
                }
            }
        )*
    };
}
pub(super) use hand_on;

impl IPluginBaseTrait for Instance {
    hand_on! { IPluginBaseTrait {
        initialize(context: *mut FUnknown) -> tresult;
        terminate() -> tresult;
    } }
}

impl IEditControllerTrait for Instance {
    hand_on! { IEditControllerTrait {
        setComponentState(state: *mut IBStream) -> tresult;
        setState(state: *mut IBStream) -> tresult;
        getState(state: *mut IBStream) -> tresult;
        getParameterCount() -> int32;
        getParamStringByValue(id: ParamID, value: ParamValue, text: *mut String128) -> tresult;
        normalizedParamToPlain(id: ParamID, value: ParamValue) -> ParamValue;
        plainParamToNormalized(id: ParamID, value: ParamValue) -> ParamValue;
        getParamNormalized(id: ParamID) -> ParamValue;
        setComponentHandler(handler: *mut IComponentHandler) -> tresult;
    } }

    unsafe fn setParamNormalized(&self, id: ParamID, value: ParamValue) -> tresult {
        state::asked_for(self.link.params(), id);
        // SAFETY: the arguments are the host's, for the framework's function of this name.
        unsafe { IEditControllerTrait::setParamNormalized(&self.framework, id, value) }
    }

    /// Reads what people type, where the framework cannot.
    unsafe fn getParamValueByString(
        &self,
        id: ParamID,
        text: *mut TChar,
        value: *mut ParamValue,
    ) -> tresult {
        if text.is_null() || value.is_null() {
            return kInvalidArgument;
        }
        // SAFETY: the text ends with a zero, and there is a place for the answer.
        unsafe {
            let length = (0..).take_while(|&index| *text.add(index) != 0).count();
            let units = std::slice::from_raw_parts(text.cast::<u16>(), length);
            let found = String::from_utf16(units).ok().and_then(|text| texts::one_of(id, &text));
            if let Some((index, count)) = found {
                *value = index as f64 / (count - 1) as f64;
                return kResultOk;
            }
            IEditControllerTrait::getParamValueByString(&self.framework, id, text, value)
        }
    }

    /// The framework's function panics at one past the end.
    unsafe fn getParameterInfo(&self, index: int32, info: *mut ParameterInfo) -> tresult {
        // SAFETY: the arguments are the host's, for the framework's functions of these names.
        unsafe {
            if (0..self.getParameterCount()).contains(&index) {
                IEditControllerTrait::getParameterInfo(&self.framework, index, info)
            } else {
                kInvalidArgument
            }
        }
    }

    unsafe fn createView(&self, name: FIDString) -> *mut IPlugView {
        // SAFETY: the argument is the host's, for the framework's function of this name, which
        // gives a view that nobody else has yet.
        unsafe {
            let view = IEditControllerTrait::createView(&self.framework, name);
            scale::mend(view, &self.link);
            view
        }
    }
}

impl IProcessContextRequirementsTrait for Instance {
    hand_on! { IProcessContextRequirementsTrait {
        getProcessContextRequirements() -> uint32;
    } }
}

impl IInfoListenerTrait for Instance {
    hand_on! { IInfoListenerTrait {
        setChannelContextInfos(list: *mut IAttributeList) -> tresult;
    } }
}

impl IUnitInfoTrait for Instance {
    hand_on! { IUnitInfoTrait {
        getUnitCount() -> int32;
        getUnitInfo(index: int32, info: *mut UnitInfo) -> tresult;
        getProgramListCount() -> int32;
        getProgramListInfo(index: int32, info: *mut ProgramListInfo) -> tresult;
        getProgramName(list: ProgramListID, index: int32, name: *mut String128) -> tresult;
        getProgramInfo(
            list: ProgramListID, index: int32, attribute: CString, value: *mut String128
        ) -> tresult;
        hasProgramPitchNames(list: ProgramListID, index: int32) -> tresult;
        getProgramPitchName(
            list: ProgramListID, index: int32, pitch: int16, name: *mut String128
        ) -> tresult;
        getSelectedUnit() -> UnitID;
        selectUnit(unit: UnitID) -> tresult;
        getUnitByBus(
            kind: MediaType, direction: BusDirection, bus: int32, channel: int32, unit: *mut UnitID
        ) -> tresult;
        setUnitProgramData(list_or_unit: int32, index: int32, data: *mut IBStream) -> tresult;
    } }
}
