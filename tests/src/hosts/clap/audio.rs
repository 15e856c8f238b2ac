//! A take, cut into blocks and played through a CLAP processor.

use std::ops::Range;

use clack_host::events::event_types::{ParamValueEvent, TransportEvent, TransportFlags};
use clack_host::events::{EventFlags, EventHeader};
use clack_host::prelude::*;
use clack_host::utils::{BeatTime, SecondsTime};

use super::callbacks::Callbacks;
use super::{Range as ParameterRange, clap_id, range};
use crate::hosts::{HostError, LeftOut, Take};

/// Tempo that the transport reports, in beats a minute.
const TEMPO_BPM: f64 = 120.0;

/// Buffers and events of a take, ready for the audio thread.
pub struct Audio {
    main: Vec<Vec<f32>>,
    side_chain: Vec<Vec<f32>>,
    output: Vec<Vec<f32>>,
    left_out: LeftOut,
    blocks: Vec<(Range<usize>, Vec<ParamValueEvent>)>,
    /// Parameters that the plugin has changed itself, with their values.
    pub told: Vec<(u32, f64)>,
    /// Whether the latest block allows to stop when the input is silent.
    pub may_sleep: bool,
}

impl Audio {
    /// Copies the take, since the format's inputs are writable memory.
    pub fn new(take: &Take<'_>, parameters: &[ParameterRange]) -> Self {
        let events = |block: &Range<usize>| {
            take.changes_within(block)
                .map(|change| {
                    let time = u32::try_from(change.at_frame - block.start).expect("a short block");
                    let plain = range(parameters, change.id).plain(change.value);
                    ParamValueEvent::new(time, clap_id(change.id), Pckn::match_all(), plain)
                })
                .collect()
        };
        Self {
            main: take.main.to_vec(),
            side_chain: take.side_chain.to_vec(),
            // A plugin that leaves the output alone must not pass.
            output: vec![vec![f32::from_bits(0x7fc0_dead); take.frames()]; take.main.len()],
            left_out: take.left_out,
            blocks: take.ranges().map(|block| (block.clone(), events(&block))).collect(),
            told: Vec::new(),
            may_sleep: true,
        }
    }

    /// Plays every block. The steady time counts from `steady_frame`; where the transport stands
    /// in each block, and whether it plays, is given.
    pub fn play(
        &mut self,
        processor: &mut StartedPluginAudioProcessor<Callbacks>,
        mut steady_frame: u64,
        transports: &[(i64, bool)],
        rate_hz: f64,
    ) -> Result<(), HostError> {
        let channels = self.main.len() + self.side_chain.len();
        let mut inputs = AudioPorts::with_capacity(channels, 2);
        let mut outputs = AudioPorts::with_capacity(self.output.len(), 1);
        let mut out = EventBuffer::new();
        for ((block, events), (frame, plays)) in self.blocks.iter().zip(transports) {
            let passed = self.left_out.passed(self.main.len(), self.side_chain.len());
            let given = [&mut self.main, &mut self.side_chain];
            let ports = given.into_iter().zip(passed);
            let ports: Vec<_> =
                ports.map(|(channels, passed)| port(&mut channels[..passed], block)).collect();
            let input = inputs.with_input_buffers(ports);
            let mut output = outputs.with_output_buffers([AudioPortBuffer {
                latency: 0,
                channels: AudioPortBufferType::f32_output_only(
                    self.output.iter_mut().map(|channel| &mut channel[block.clone()]),
                ),
            }]);
            let status = processor
                .process(
                    &input,
                    &mut output,
                    &InputEvents::from_buffer(events),
                    &mut OutputEvents::from_buffer(&mut out),
                    Some(steady_frame),
                    Some(&transport(*frame as f64 / rate_hz, *plays)),
                )
                .map_err(|_| HostError::Refused("a block"))?;
            self.may_sleep = status != ProcessStatus::Continue;
            let values = out.iter().filter_map(|event| event.as_event::<ParamValueEvent>());
            let told = values.filter_map(|event| Some((event.param_id()?.get(), event.value())));
            self.told.extend(told);
            out.clear();
            steady_frame += block.len() as u64;
        }
        Ok(())
    }

    /// The output.
    pub fn into_output(self) -> Vec<Vec<f32>> {
        self.output
    }
}

/// The channels of an input port within a block.
fn port<'a>(
    channels: &'a mut [Vec<f32>],
    block: &Range<usize>,
) -> AudioPortBuffer<
    impl IntoIterator<Item = InputChannel<'a, f32>> + use<'a>,
    std::array::IntoIter<InputChannel<'static, f64>, 0>,
> {
    let block = block.clone();
    AudioPortBuffer {
        latency: 0,
        channels: AudioPortBufferType::f32_input_only(
            channels
                .iter_mut()
                .map(move |channel| InputChannel::variable(&mut channel[block.clone()])),
        ),
    }
}

/// A transport that plays or not, `at_s` seconds into the song.
fn transport(at_s: f64, plays: bool) -> TransportEvent {
    let playing = if plays { TransportFlags::IS_PLAYING } else { TransportFlags::empty() };
    TransportEvent {
        header: EventHeader::new_core(0, EventFlags::empty()),
        flags: playing
            | TransportFlags::HAS_TEMPO
            | TransportFlags::HAS_BEATS_TIMELINE
            | TransportFlags::HAS_SECONDS_TIMELINE,
        song_pos_beats: BeatTime::from_float(at_s * TEMPO_BPM / 60.0),
        song_pos_seconds: SecondsTime::from_float(at_s),
        tempo: TEMPO_BPM,
        tempo_inc: 0.0,
        loop_start_beats: BeatTime::from_int(0),
        loop_end_beats: BeatTime::from_int(0),
        loop_start_seconds: SecondsTime::from_int(0),
        loop_end_seconds: SecondsTime::from_int(0),
        bar_start: BeatTime::from_int(0),
        bar_number: 0,
        time_signature_numerator: 4,
        time_signature_denominator: 4,
    }
}
