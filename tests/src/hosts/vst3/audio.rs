//! A take, cut into blocks and played through a VST3 processor.
#![allow(unsafe_code, reason = "a block is handed over as raw pointers")]

use std::ops::Range;

use vst3::ComWrapper;
use vst3::Steinberg::Vst::ProcessContext_::StatesAndFlags_::{
    kPlaying, kProjectTimeMusicValid, kTempoValid,
};
use vst3::Steinberg::Vst::ProcessModes_::{kOffline, kRealtime};
use vst3::Steinberg::Vst::SymbolicSampleSizes_::kSample32;
use vst3::Steinberg::Vst::{
    AudioBusBuffers, AudioBusBuffers__type0, IParameterChanges, ProcessContext, ProcessData,
};

use super::changes::Changes;
use super::instance::Instance;
use super::told::Told;
use crate::hosts::{HostError, LeftOut, Setup, Take, parameter_hash};

/// Tempo that the transport reports, in beats a minute.
const TEMPO_BPM: f64 = 120.0;

/// Buffers and changes of a take, ready for the audio thread.
pub struct Audio {
    main: Vec<Vec<f32>>,
    side_chain: Vec<Vec<f32>>,
    output: Vec<Vec<f32>>,
    in_place: bool,
    left_out: LeftOut,
    input_busses: usize,
    blocks: Vec<(Range<usize>, ComWrapper<Changes>)>,
    told: ComWrapper<Told>,
}

impl Audio {
    /// Copies the take, since the API's inputs are writable memory. `input_busses` is how many the
    /// plugin shows; those that the take has nothing for are handed over without channels.
    pub fn new(take: &Take<'_>, input_busses: i32) -> Self {
        let changes = |block: &Range<usize>| {
            Changes::new(take.changes_within(block).map(|change| {
                let frame = i32::try_from(change.at_frame - block.start).expect("a short block");
                (parameter_hash(change.id), frame, change.value)
            }))
        };
        // A plugin that leaves the output alone must not pass, unless the input is there already.
        let output = if take.in_place {
            take.main.to_vec()
        } else {
            vec![vec![f32::from_bits(0x7fc0_dead); take.frames()]; take.main.len()]
        };
        Self {
            main: take.main.to_vec(),
            side_chain: take.side_chain.to_vec(),
            output,
            in_place: take.in_place,
            left_out: take.left_out,
            input_busses: usize::try_from(input_busses).unwrap_or(0),
            blocks: take.ranges().map(|block| (block.clone(), changes(&block))).collect(),
            told: ComWrapper::new(Told::default()),
        }
    }

    /// Plays every block. The continuous time counts from `continuous_frame`; where the transport
    /// stands in each block, and whether it plays, is given.
    pub fn play(
        &mut self,
        instance: &Instance,
        continuous_frame: u64,
        transports: &[(i64, bool)],
        setup: &Setup,
    ) -> Result<(), HostError> {
        let mut context = context(setup.rate_hz);
        for (index, &(frame, plays)) in transports.iter().enumerate() {
            let continuous = continuous_frame + self.blocks[index].0.start as u64;
            context.state = state(plays);
            context.projectTimeSamples = frame;
            context.continousTimeSamples = i64::try_from(continuous).unwrap_or(i64::MAX);
            context.projectTimeMusic = frame as f64 / setup.rate_hz * TEMPO_BPM / 60.0;
            self.play_block(instance, index, &mut context, setup.offline)?;
        }
        Ok(())
    }

    fn play_block(
        &mut self,
        instance: &Instance,
        index: usize,
        context: &mut ProcessContext,
        offline: bool,
    ) -> Result<(), HostError> {
        let (block, changes) = self.blocks[index].clone();
        let mut output = pointers(&mut self.output, &block);
        let mut main =
            if self.in_place { output.clone() } else { pointers(&mut self.main, &block) };
        let mut side_chain = pointers(&mut self.side_chain, &block);
        let mut inputs = match self.left_out {
            LeftOut::Nothing => vec![bus(&mut main), bus(&mut side_chain)],
            left_out => {
                let passed = left_out.passed(main.len(), side_chain.len());
                let given = [&mut main, &mut side_chain].into_iter().zip(passed);
                given.map(|(channels, passed)| bus(&mut channels[..passed])).collect()
            }
        };
        inputs.truncate(self.input_busses);
        let mut outputs = [bus(&mut output)];
        let changes = changes.as_com_ref::<IParameterChanges>().expect("its own interface");
        let told = self.told.as_com_ref::<IParameterChanges>().expect("its own interface");
        let mut data = ProcessData {
            processMode: if offline { kOffline } else { kRealtime } as i32,
            symbolicSampleSize: kSample32 as i32,
            numSamples: i32::try_from(block.len()).expect("a short block"),
            numInputs: i32::try_from(inputs.len()).expect("two at most"),
            numOutputs: 1,
            inputs: inputs.as_mut_ptr(),
            outputs: outputs.as_mut_ptr(),
            inputParameterChanges: changes.as_ptr(),
            outputParameterChanges: told.as_ptr(),
            inputEvents: std::ptr::null_mut(),
            outputEvents: std::ptr::null_mut(),
            processContext: context,
        };
        // SAFETY: the busses hold pointers to as many channels as they say, each to as many frames
        // as the block has, in vectors that outlive the call; input and output share memory only
        // where the API allows it, channel by channel. Changes and context outlive the call too.
        unsafe { instance.process(&mut data) }
    }

    /// Parameters that the plugin has changed itself, with their values.
    pub fn told(&self) -> Vec<(u32, f64)> {
        self.told.points()
    }

    /// The output.
    pub fn into_output(self) -> Vec<Vec<f32>> {
        self.output
    }
}

/// Where each channel's part of a block begins.
fn pointers(channels: &mut [Vec<f32>], block: &Range<usize>) -> Vec<*mut f32> {
    channels.iter_mut().map(|channel| channel[block.clone()].as_mut_ptr()).collect()
}

/// A bus of these channels; without any, as for a bus that is off, it has no memory either.
fn bus(channels: &mut [*mut f32]) -> AudioBusBuffers {
    let pointers = if channels.is_empty() { std::ptr::null_mut() } else { channels.as_mut_ptr() };
    AudioBusBuffers {
        numChannels: i32::try_from(channels.len()).expect("a few channels"),
        silenceFlags: 0,
        __field0: AudioBusBuffers__type0 { channelBuffers32: pointers },
    }
}

/// What a transport that plays or not says of itself.
#[allow(clippy::unnecessary_cast, reason = "the constants' type differs by system")]
fn state(plays: bool) -> u32 {
    let playing = if plays { kPlaying as u32 } else { 0 };
    playing | kTempoValid as u32 | kProjectTimeMusicValid as u32
}

/// A transport that stands at the beginning.
fn context(rate_hz: f64) -> ProcessContext {
    // SAFETY: the structure holds plain numbers only, for which zeros are valid.
    let mut context: ProcessContext = unsafe { std::mem::zeroed() };
    context.sampleRate = rate_hz;
    context.tempo = TEMPO_BPM;
    context.timeSigNumerator = 4;
    context.timeSigDenominator = 4;
    context
}
