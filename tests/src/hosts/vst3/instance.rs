//! A VST3 plugin object: component, processor and controller in one, behind safe calls.
#![allow(unsafe_code, reason = "every call of the API goes through a C table of functions")]
#![allow(clippy::unnecessary_cast, reason = "the type of the API's constants differs by system")]

use std::sync::Arc;

use vst3::Steinberg::Vst::BusDirections_::{kInput, kOutput};
use vst3::Steinberg::Vst::MediaTypes_::kAudio;
use vst3::Steinberg::Vst::ParameterInfo_::ParameterFlags_::kIsBypass;
use vst3::Steinberg::Vst::ProcessModes_::{kOffline, kRealtime};
use vst3::Steinberg::Vst::SpeakerArr::{
    k30Cine, k40Music, k50, k51, k71_4, k71Music, kMono, kStereo,
};
use vst3::Steinberg::Vst::SymbolicSampleSizes_::kSample32;
use vst3::Steinberg::Vst::ViewType;
use vst3::Steinberg::Vst::{
    IAudioProcessor, IAudioProcessorTrait, IComponent, IComponentHandler, IComponentTrait,
    IEditController, IEditControllerTrait, IHostApplication, ProcessData, ProcessSetup,
    SpeakerArrangement, String128,
};
use vst3::Steinberg::{
    FUnknown, IBStream, IPlugViewContentScaleSupport, IPlugViewContentScaleSupportTrait,
    IPlugViewTrait, IPluginBaseTrait, ViewRect, kResultOk, tresult,
};
use vst3::{ComPtr, ComWrapper};

use super::context::{Application, Handler};
use super::module::Module;
use super::stream::MemoryStream;
use crate::hosts::{HostError, Layout, Parameter, Setup};

/// No speakers: the arrangement of a bus that is switched off.
const NO_SPEAKERS: SpeakerArrangement = 0;

/// An initialized plugin object. Fields are dropped in order: the module last, since the code of
/// the others is in it.
pub struct Instance {
    processor: ComPtr<IAudioProcessor>,
    controller: ComPtr<IEditController>,
    component: ComPtr<IComponent>,
    _handler: ComWrapper<Handler>,
    _application: ComWrapper<Application>,
    _module: Arc<Module>,
}

impl Instance {
    /// Makes and initializes an object of the module's first class.
    pub fn new(module: Arc<Module>) -> Result<Self, HostError> {
        let object = module.make()?;
        let component: ComPtr<IComponent> =
            object.cast().ok_or(HostError::Refused("IComponent"))?;
        let processor = object.cast().ok_or(HostError::Refused("IAudioProcessor"))?;
        // A plugin whose controller is another object would need both connected; ours is one.
        let controller: ComPtr<IEditController> =
            object.cast().ok_or(HostError::Refused("IEditController"))?;
        let application = ComWrapper::new(Application);
        let handler = ComWrapper::new(Handler);
        let context = application.to_com_ptr::<IHostApplication>().expect("its own interface");
        let ear = handler.to_com_ptr::<IComponentHandler>().expect("its own interface");
        // SAFETY: all objects are alive, and the plugin takes references of its own to what it
        // keeps.
        unsafe {
            let context = context.upcast::<FUnknown>();
            check(component.initialize(context.as_ptr()), "initialization")?;
            check(controller.setComponentHandler(ear.as_ptr()), "component handler")?;
        }
        Ok(Self {
            processor,
            controller,
            component,
            _handler: handler,
            _application: application,
            _module: module,
        })
    }

    /// Asks for the arrangement of a layout and switches the busses on or off.
    ///
    /// Hosts keep to the number of busses that the plugin shows, and where a project has no
    /// side-chain they differ in what they ask for: a bus without speakers, or one that is there
    /// but off. The first that the plugin takes is used, and last of all a single input.
    pub fn arrange(&self, layout: Layout) -> Result<(), HostError> {
        let main = match layout {
            Layout::Mono | Layout::MonoWithSideChain | Layout::MonoWithStereoSideChain => kMono,
            Layout::Stereo | Layout::StereoWithMonoSideChain | Layout::StereoWithSideChain => {
                kStereo
            }
            Layout::Lcr => k30Cine,
            Layout::Quad => k40Music,
            Layout::Five => k50,
            Layout::FivePointOne => k51,
            Layout::SevenPointOne => k71Music,
            Layout::SevenPointOneFour => k71_4,
        };
        let with_side_chain = layout.side_chain_channels() > 0;
        let side_chain = if layout.side_chain_channels() == 1 { kMono } else { kStereo };
        let candidates: &[&[SpeakerArrangement]] = if with_side_chain {
            &[&[main, side_chain]]
        } else if self.input_busses() > 1 {
            &[&[main, NO_SPEAKERS], &[main, kStereo], &[main]]
        } else {
            &[&[main]]
        };
        if !candidates.iter().any(|inputs| self.takes(inputs, main)) {
            return Err(HostError::Layout(layout));
        }
        for bus in 0..self.input_busses() {
            self.activate_bus(kInput as i32, bus, bus == 0 || with_side_chain);
        }
        self.activate_bus(kOutput as i32, 0, true);
        Ok(())
    }

    fn takes(&self, inputs: &[SpeakerArrangement], output: SpeakerArrangement) -> bool {
        let (mut inputs, mut outputs) = (inputs.to_vec(), [output]);
        // SAFETY: the object is alive, and both arrays are as long as said.
        let taken = unsafe {
            self.processor.setBusArrangements(
                inputs.as_mut_ptr(),
                inputs.len() as i32,
                outputs.as_mut_ptr(),
                1,
            ) == kResultOk
        };
        // What was taken has to be what is there, which the API promises.
        let shown = |direction, bus| self.arrangement(direction, bus);
        taken
            && (0..).zip(&inputs).all(|(bus, &wanted)| shown(kInput as i32, bus) == Some(wanted))
            && shown(kOutput as i32, 0) == Some(output)
    }

    /// The arrangement that the plugin shows of a bus.
    fn arrangement(&self, direction: i32, bus: i32) -> Option<SpeakerArrangement> {
        let mut arrangement = NO_SPEAKERS;
        // SAFETY: the object is alive, and the answer has a place.
        let result = unsafe { self.processor.getBusArrangement(direction, bus, &mut arrangement) };
        (result == kResultOk).then_some(arrangement)
    }

    fn activate_bus(&self, direction: i32, bus: i32, on: bool) {
        // SAFETY: the object is alive. A plugin without optional busses may refuse.
        unsafe { self.component.activateBus(kAudio as i32, direction, bus, u8::from(on)) };
    }

    /// How many audio input busses the plugin shows now.
    pub fn input_busses(&self) -> i32 {
        // SAFETY: the object is alive.
        unsafe { self.component.getBusCount(kAudio as i32, kInput as i32) }
    }

    /// Announces rate, block length and mode.
    pub fn set_up(&self, setup: &Setup) -> Result<(), HostError> {
        let mut setup = ProcessSetup {
            processMode: if setup.offline { kOffline } else { kRealtime } as i32,
            symbolicSampleSize: kSample32 as i32,
            maxSamplesPerBlock: i32::try_from(setup.most_frames).unwrap_or(i32::MAX),
            sampleRate: setup.rate_hz,
        };
        // SAFETY: the object is alive, and the structure outlives the call.
        check(unsafe { self.processor.setupProcessing(&mut setup) }, "setup")
    }

    /// Activates or deactivates.
    pub fn set_active(&self, on: bool) -> Result<(), HostError> {
        // SAFETY: the object is alive.
        check(unsafe { self.component.setActive(u8::from(on)) }, "activation")
    }

    /// Starts or stops processing.
    pub fn set_processing(&self, on: bool) -> Result<(), HostError> {
        // SAFETY: the object is alive.
        check(unsafe { self.processor.setProcessing(u8::from(on)) }, "start of processing")
    }

    /// Processes a block.
    ///
    /// # Safety
    ///
    /// Everything that `data` points to has to be valid for its `numSamples` frames, for reading
    /// or writing as the API says.
    pub unsafe fn process(&self, data: &mut ProcessData) -> Result<(), HostError> {
        // SAFETY: the object is alive; the rest is the caller's promise.
        check(unsafe { self.processor.process(data) }, "a block")
    }

    /// Latency in frames.
    pub fn latency_frames(&self) -> u32 {
        // SAFETY: the object is alive.
        unsafe { self.processor.getLatencySamples() }
    }

    /// For how many frames it sounds on, the largest number for always.
    pub fn tail_frames(&self) -> u32 {
        // SAFETY: the object is alive.
        unsafe { self.processor.getTailSamples() }
    }

    /// All parameters.
    pub fn parameters(&self) -> Vec<Parameter> {
        let mut parameters = Vec::new();
        // SAFETY: the object is alive, and the info is a plain structure of numbers for which
        // zeros are valid; the plugin fills it in.
        unsafe {
            for index in 0..self.controller.getParameterCount() {
                let mut info = std::mem::zeroed();
                if self.controller.getParameterInfo(index, &mut info) == kResultOk {
                    parameters.push(Parameter {
                        hash: info.id,
                        name: text(&info.title),
                        default: info.defaultNormalizedValue,
                        bypass: info.flags & kIsBypass as i32 != 0,
                    });
                }
            }
        }
        parameters
    }

    /// Value of a parameter, 0 to 1.
    pub fn value(&self, hash: u32) -> f64 {
        // SAFETY: the object is alive.
        unsafe { self.controller.getParamNormalized(hash) }
    }

    /// Sets a parameter while nothing is processed.
    pub fn set(&self, hash: u32, value: f64) {
        // SAFETY: the object is alive.
        unsafe { self.controller.setParamNormalized(hash, value) };
    }

    /// How the plugin writes a value.
    pub fn text(&self, hash: u32, value: f64) -> Option<String> {
        let mut string: String128 = [0; 128];
        // SAFETY: the object is alive, and the string is as long as the API says.
        let result = unsafe { self.controller.getParamStringByValue(hash, value, &mut string) };
        (result == kResultOk).then(|| text(&string))
    }

    /// What the plugin reads from a text.
    pub fn value_of_text(&self, hash: u32, text: &str) -> Option<f64> {
        let mut string: Vec<u16> = text.encode_utf16().chain([0]).collect();
        let mut value = 0.0;
        // SAFETY: the object is alive, and the string ends with a zero.
        let result = unsafe {
            self.controller.getParamValueByString(hash, string.as_mut_ptr().cast(), &mut value)
        };
        (result == kResultOk).then_some(value)
    }

    /// Makes a view, tells it a scale, and lets go of it. Returns whether the scale was taken, and
    /// the view's width and height before and after.
    pub fn scale_a_view(&self, scale: f32) -> Option<(bool, [[i32; 2]; 2])> {
        // SAFETY: the object is alive; the view, if one comes, is a reference of ours.
        unsafe {
            let view = ComPtr::from_raw(self.controller.createView(ViewType::kEditor))?;
            let support = view.cast::<IPlugViewContentScaleSupport>()?;
            let size = || {
                let mut rect = std::mem::zeroed::<ViewRect>();
                view.getSize(&mut rect);
                [rect.right - rect.left, rect.bottom - rect.top]
            };
            let before = size();
            let taken = support.setContentScaleFactor(scale) == kResultOk;
            Some((taken, [before, size()]))
        }
    }

    /// Saves the state.
    pub fn save(&self) -> Result<Vec<u8>, HostError> {
        let stream = MemoryStream::new(&[]);
        let pointer = stream.to_com_ptr::<IBStream>().expect("its own interface");
        // SAFETY: the object and the stream are alive.
        check(unsafe { self.component.getState(pointer.as_ptr()) }, "saving its state")?;
        Ok(stream.bytes())
    }

    /// Recalls a state, in the component and then in the controller, as the API asks.
    pub fn recall(&self, state: &[u8]) -> Result<(), HostError> {
        let pointer = || {
            let stream = MemoryStream::new(state);
            stream.to_com_ptr::<IBStream>().expect("its own interface")
        };
        let (first, second) = (pointer(), pointer());
        // SAFETY: the object and the streams are alive.
        unsafe {
            check(self.component.setState(first.as_ptr()), "the state")?;
            check(self.controller.setComponentState(second.as_ptr()), "the state")
        }
    }
}

impl Drop for Instance {
    fn drop(&mut self) {
        // SAFETY: the object is alive, inactive, and nothing calls it after this.
        unsafe {
            self.controller.setComponentHandler(std::ptr::null_mut());
            self.component.terminate();
        }
    }
}

fn check(result: tresult, what: &'static str) -> Result<(), HostError> {
    if result == kResultOk { Ok(()) } else { Err(HostError::Refused(what)) }
}

/// A text that ends at its first zero.
fn text(characters: &[u16]) -> String {
    let end = characters.iter().position(|character| *character == 0).unwrap_or(characters.len());
    String::from_utf16_lossy(&characters[..end])
}
