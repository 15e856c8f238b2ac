//! The instance's arrangements and blocks. What the framework (nice-plug 0.4.2) gets wrong here:
//!
//! * It compares a side-chain asked for with the main bus's channels, and answers with the
//!   arrangement that usually has so many channels, not with the one that was taken.
//! * It hands on the mode of the `setupProcessing` before the last.
//! * It does not tell the plugin that processing stops.
//! * It reads inputs without looking whether the host has passed them.

use std::sync::atomic::Ordering;

use nice_plug::wrapper::vst3::Wrapper;
use nice_plug::wrapper::vst3::vst3::Steinberg::Vst::{
    AudioBusBuffers, AudioBusBuffers__type0, BusDirection, IAudioProcessorTrait, ProcessData,
    ProcessModes_, ProcessSetup, SpeakerArr, SpeakerArrangement, SymbolicSampleSizes_,
};
use nice_plug::wrapper::vst3::vst3::Steinberg::{
    TBool, int32, kInvalidArgument, kResultFalse, kResultOk, tresult, uint32,
};

use super::component::{INPUTS, SIDE_CHAIN, is_input};
use super::instance::{Instance, hand_on};
use super::state;
use crate::Ledgerline;
use crate::export::asked;
use crate::export::channels::{HostChannels, complete, hand_over};
use crate::layouts::{MAIN_BUSES, MainBus};

/// The arrangement of a main bus. Loudspeakers have the same bits in VST 3 as in `layouts`.
fn arrangement(bus: &MainBus) -> SpeakerArrangement {
    if bus.channels() == 1 { SpeakerArr::kMono } else { bus.speakers }
}

/// The VST 3 API's endless tail.
const ENDLESS: uint32 = uint32::MAX;
/// Longer than any listening filter sounds on at any rate, in frames.
const LISTENING_TAIL_FRAMES: uint32 = 768_000;

/// Arrangements of side-chains, by their number of channels.
const SIDE_CHAINS: [SpeakerArrangement; 3] =
    [SpeakerArr::kEmpty, SpeakerArr::kMono, SpeakerArr::kStereo];

impl Instance {
    /// The buses that a host asks for; `None` where they are not offered. A host that asks for the
    /// main bus alone leaves the side-chain as it is.
    fn wanted(
        &self,
        inputs: &[SpeakerArrangement],
        output: SpeakerArrangement,
    ) -> Option<(&'static MainBus, usize)> {
        let (&main, side_chain) = inputs.split_first()?;
        let main = MAIN_BUSES.iter().find(|bus| arrangement(bus) == main)?;
        let side_channels = match side_chain {
            [] => self.link.side_channels(),
            [wanted] => SIDE_CHAINS.iter().position(|offered| offered == wanted)?,
            _ => return None,
        };
        (arrangement(main) == output).then_some((main, side_channels))
    }

    /// Takes the wanted buses over.
    fn arrange(&self, main: &'static MainBus, side_channels: usize) -> tresult {
        let mut wanted = arrangement(main);
        let wanted = &raw mut wanted;
        // SAFETY: the framework's function reads one arrangement from each array.
        let result = unsafe {
            IAudioProcessorTrait::setBusArrangements(&self.framework, wanted, 1, wanted, 1)
        };
        if result == kResultOk {
            self.link.choose_buses(main, side_channels);
        }
        result
    }
}

impl IAudioProcessorTrait for Instance {
    hand_on! { IAudioProcessorTrait {
        canProcessSampleSize(size: int32) -> tresult;
        getLatencySamples() -> uint32;
    } }

    /// Hosts may ask before the first block, when the framework does not know yet.
    unsafe fn getTailSamples(&self) -> uint32 {
        let params = self.link.params();
        // SAFETY: the framework's function of this name takes no argument.
        let known = unsafe { IAudioProcessorTrait::getTailSamples(&self.framework) };
        if asked::is_awake(params) {
            ENDLESS
        } else if asked::has_tail(params) && known == 0 {
            LISTENING_TAIL_FRAMES
        } else {
            known
        }
    }

    unsafe fn setBusArrangements(
        &self,
        inputs: *mut SpeakerArrangement,
        input_count: int32,
        outputs: *mut SpeakerArrangement,
        output_count: int32,
    ) -> tresult {
        let in_reach = (1..=INPUTS).contains(&input_count) && output_count == 1;
        if inputs.is_null() || outputs.is_null() || !in_reach {
            return kInvalidArgument;
        }
        // SAFETY: hosts pass arrays of the lengths that they state.
        let (inputs, output) =
            unsafe { (std::slice::from_raw_parts(inputs, input_count as usize), *outputs) };
        match self.wanted(inputs, output) {
            // Blocks may be on their way to an active instance.
            Some((main, side_channels)) if !self.active.load(Ordering::Relaxed) => {
                self.arrange(main, side_channels)
            }
            _ => kResultFalse,
        }
    }

    unsafe fn getBusArrangement(
        &self,
        direction: BusDirection,
        index: int32,
        answer: *mut SpeakerArrangement,
    ) -> tresult {
        let arrangement = match (is_input(direction), index) {
            (_, 0) => arrangement(self.link.main_bus()),
            (true, SIDE_CHAIN) => SIDE_CHAINS[self.link.side_channels()],
            _ => return kInvalidArgument,
        };
        // SAFETY: hosts pass a place for the answer, or null.
        let Some(answer) = (unsafe { answer.as_mut() }) else { return kInvalidArgument };
        *answer = arrangement;
        kResultOk
    }

    #[allow(clippy::unnecessary_cast, reason = "the type of the constants differs by system")]
    unsafe fn setupProcessing(&self, setup: *mut ProcessSetup) -> tresult {
        // SAFETY: hosts pass a setup, or null.
        let Some(given) = (unsafe { setup.as_ref() }) else { return kInvalidArgument };
        self.link.set_offline(given.processMode == ProcessModes_::kOffline as i32);
        let most_frames = usize::try_from(given.maxSamplesPerBlock).unwrap_or(0);
        self.most_frames.store(most_frames, Ordering::Relaxed);
        // SAFETY: the argument is the host's, for the framework's function of this name.
        unsafe { IAudioProcessorTrait::setupProcessing(&self.framework, setup) }
    }

    unsafe fn setProcessing(&self, state: TBool) -> tresult {
        // SAFETY: the framework's function of this name takes any argument.
        let result = unsafe { IAudioProcessorTrait::setProcessing(&self.framework, state) };
        if state == 0
            && let Some(mut audio) = self.link.audio_at_once()
        {
            audio.stop();
        }
        result
    }

    /// Hands on a block of which every channel is there: the host's, or silence.
    unsafe fn process(&self, data: *mut ProcessData) -> tresult {
        // SAFETY: hosts pass a block, or null.
        let Some(given) = (unsafe { data.as_ref() }) else { return kInvalidArgument };
        if !self.active.load(Ordering::Relaxed) || !has_32_bit_samples(given) {
            return kResultFalse;
        }
        // SAFETY: the changes are the host's for this block.
        unsafe { state::settle(self.link.params(), given.outputParameterChanges) };
        let frames = usize::try_from(given.numSamples).unwrap_or(0);
        let port = |buses: *mut AudioBusBuffers, count: int32, index: int32| {
            if buses.is_null() || index >= count {
                return HostChannels::NONE;
            }
            // SAFETY: hosts pass as many buses as they state, with as many channels as each states,
            // of as many frames as the block has; all live as long as the call.
            unsafe {
                let bus = &*buses.add(index as usize);
                let count = usize::try_from(bus.numChannels).unwrap_or(0);
                HostChannels::new(bus.__field0.channelBuffers32, count, frames)
            }
        };
        let input = port(given.inputs, given.numInputs, 0);
        let output = port(given.outputs, given.numOutputs, 0);
        hand_over(&self.link, port(given.inputs, given.numInputs, SIDE_CHAIN), frames);

        let channels = self.link.main_bus().channels();
        let mut main = complete(input, output, channels);
        let (mut input, mut output) = match &mut main {
            Some(main) => (bus(&mut main.inputs[..channels]), bus(&mut main.outputs[..channels])),
            None => (bus(&mut []), bus(&mut [])),
        };
        let whole = int32::from(main.is_some());
        // SAFETY: plain data; the copy is given back before the host's goes away.
        let mut completed = unsafe { std::ptr::read(given) };
        (completed.numInputs, completed.inputs) = (whole, &raw mut input);
        (completed.numOutputs, completed.outputs) = (whole, &raw mut output);
        if whole == 1 {
            // SAFETY: the host has passed an output. It may hold a feed where the input is silent.
            unsafe { (*given.outputs).silenceFlags = 0 };
        }
        // SAFETY: `completed` is the host's block but for the buses, which outlive the call.
        unsafe { IAudioProcessorTrait::process(&self.framework, &raw mut completed) }
    }
}

#[allow(clippy::unnecessary_cast, reason = "the type of the constants differs by system")]
fn has_32_bit_samples(data: &ProcessData) -> bool {
    data.symbolicSampleSize == SymbolicSampleSizes_::kSample32 as i32
}

/// A bus of these channels.
fn bus(channels: &mut [*mut f32]) -> AudioBusBuffers {
    AudioBusBuffers {
        numChannels: channels.len() as int32,
        silenceFlags: 0,
        __field0: AudioBusBuffers__type0 { channelBuffers32: channels.as_mut_ptr() },
    }
}
