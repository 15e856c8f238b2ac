//! A coded track: packets in, blocks of samples out, damage bridged with silence.

use std::collections::VecDeque;

use symphonia::core::audio::AudioSpec;
use symphonia::core::codecs::audio::AudioDecoder;
use symphonia::core::codecs::audio::well_known::CODEC_ID_AAC;
use symphonia::core::errors::Error;
use symphonia::core::formats::TrackType;
use symphonia::core::packet::Packet;
use symphonia::core::units::TimeBase;

use super::aac;
use super::codec;
use super::contain::contain;
use super::container;
use super::damage::Damage;
use super::error::Fault;
use super::linear::Sample;
use super::next::Next;
use super::packets::Packets;
use super::silence::Allowance;
use super::window::{SILENT_BLOCK_FRAMES, Window, fill_with_silence};

/// How many packets are looked at for what a header may not tell.
const PACKETS_LOOKED_AT: usize = 24;

/// A track that is decoded packet by packet.
pub(super) struct CodedTrack {
    packets: Packets,
    decoder: Box<dyn AudioDecoder>,
    clock: Option<TimeBase>,
    spec: AudioSpec,
    window: Window,
    /// The decoder takes delay and padding out by itself.
    trims: bool,
    times: Times,
    /// When the next packet comes, if nothing is missing.
    expected_ticks: Option<i64>,
    /// Frames at the start of the stream that are not heard.
    lead_frames: u64,
    /// Frames to leave out at both ends of what the decoder holds.
    ends: [usize; 2],
    allowance: Allowance,
    /// What was looked at before its turn.
    ahead: VecDeque<Next>,
    /// A packet that waits behind the silence before it.
    held: Option<Packet>,
    silence_frames: u64,
    /// The decoder holds a block that was not handed out yet.
    decoded: bool,
    frames_read: u64,
    damage: Damage,
    /// Gaps that the container states.
    gaps: Damage,
    ended: bool,
    /// The file ends within a packet.
    breaks_off: bool,
    ending: Ending,
}

/// How a track's packets are to be taken.
pub(super) struct Terms {
    /// The clock of the packets' times.
    pub(super) clock: Option<TimeBase>,
    pub(super) times: Times,
    /// Frames at the start of the stream that are not heard.
    pub(super) lead_frames: u64,
    /// What of the rest is heard.
    pub(super) window: Window,
    pub(super) ending: Ending,
    /// Bytes of the file; 0 where only its packets will tell.
    pub(super) file_bytes: u64,
}

/// What the times of packets tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Times {
    /// Nothing.
    Untold,
    /// They are exact to the frame: a jump is a loss.
    Exact,
    /// They are rounded: a jump of more than so many frames is a gap. The clock counts frames.
    Rounded { slack_frames: u64 },
}

/// What it means that the packets come to an end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ending {
    /// The reader can tell an end from a break.
    Told,
    /// The file is known to be cut short.
    Cut,
}

/// What one packet came to.
enum Step {
    Decoded,
    Silence(u64),
    End,
}

impl CodedTrack {
    /// Decodes up to the first samples, so that rate and channels are what the decoder says.
    pub(super) fn new(
        packets: Packets,
        decoder: Box<dyn AudioDecoder>,
        terms: Terms,
    ) -> Result<Self, Fault> {
        let Terms { clock, times, lead_frames, window, ending, file_bytes } = terms;
        let spec = stated_spec(decoder.as_ref());
        let trims = codec::is_trimmed_by_decoder(decoder.codec_params().codec);
        let allowance = Allowance::new(spec.rate(), file_bytes);
        let mut track = Self {
            packets,
            decoder,
            clock,
            spec,
            window,
            trims,
            times,
            expected_ticks: None,
            lead_frames,
            ends: [0; 2],
            allowance,
            ahead: VecDeque::new(),
            held: None,
            silence_frames: 0,
            decoded: false,
            frames_read: 0,
            damage: Damage::default(),
            gaps: Damage::default(),
            ended: false,
            breaks_off: false,
            ending,
        };
        if track.decoder.codec_params().codec == CODEC_ID_AAC && track.carries_sbr()? {
            return Err(Fault::OnlyHalfDecoded);
        }
        track.prime()?;
        Ok(track)
    }

    /// Looks at the first packets for the data that makes plain AAC HE-AAC.
    fn carries_sbr(&mut self) -> Result<bool, Fault> {
        let (mut with, mut all) = (0, 0);
        while all < PACKETS_LOOKED_AT {
            let next = self.packets.next()?;
            match &next {
                Next::Packet(packet) | Next::Laced(packet) => {
                    all += 1;
                    with += usize::from(aac::ends_with_sbr(&packet.data));
                }
                Next::Damaged => {}
                Next::Reset | Next::End | Next::BreaksOff => {
                    self.ahead.push_back(next);
                    break;
                }
            }
            self.ahead.push_back(next);
        }
        // By chance one packet in ten seems to have it.
        Ok(all > 1 && with * 4 >= all * 3)
    }

    fn prime(&mut self) -> Result<(), Fault> {
        let mut lost_frames = 0u64;
        loop {
            match self.step(true)? {
                Step::Decoded => break,
                Step::Silence(frames) => lost_frames = lost_frames.saturating_add(frames),
                Step::End if self.damage.count() == 0 => {
                    return Err(Fault::NothingDecoded("it holds no packets".to_owned()));
                }
                Step::End => {
                    return Err(Fault::NothingDecoded("every packet is damaged".to_owned()));
                }
            }
        }
        if self.spec.channels().count() == 0 {
            return Err(Fault::NoChannels);
        }
        if self.spec.rate() == 0 {
            return Err(Fault::NoRate);
        }
        self.silence_frames = lost_frames;
        Ok(())
    }

    pub(super) fn spec(&self) -> &AudioSpec {
        &self.spec
    }

    pub(super) fn window(&self) -> &Window {
        &self.window
    }

    /// Frames handed out so far.
    pub(super) fn frames_read(&self) -> u64 {
        self.frames_read
    }

    /// The file ends within a packet.
    pub(super) fn breaks_off(&self) -> bool {
        self.breaks_off
    }

    /// What could not be decoded, and what the file leaves out, in sentences.
    pub(super) fn warnings(&self) -> impl Iterator<Item = String> {
        self.damage.warning().into_iter().chain(self.gaps.gap_warning())
    }

    /// The next block, never empty; false at the end.
    pub(super) fn read<S: Sample>(&mut self, block: &mut Vec<Vec<S>>) -> Result<bool, Fault> {
        loop {
            if self.window.silent_block(self.spec.channels().count(), block) {
                self.frames_read += block[0].len() as u64;
                return Ok(true);
            }
            if self.window.is_past() || !self.fill(block)? {
                block.iter_mut().for_each(Vec::clear);
                return Ok(false);
            }
            self.cut_lead(block);
            self.window.cut(block);
            let frames = block.first().map_or(0, Vec::len);
            if frames > 0 {
                self.frames_read += frames as u64;
                return Ok(true);
            }
        }
    }

    fn fill<S: Sample>(&mut self, block: &mut Vec<Vec<S>>) -> Result<bool, Fault> {
        if self.silence_frames == 0 && !self.decoded {
            match self.step(false)? {
                Step::End => return Ok(false),
                Step::Decoded => {}
                Step::Silence(frames) => self.silence_frames = frames,
            }
        }
        if self.silence_frames > 0 {
            let frames = self.silence_frames.min(SILENT_BLOCK_FRAMES);
            self.silence_frames -= frames;
            fill_with_silence(self.spec.channels().count(), frames as usize, block);
        } else if std::mem::take(&mut self.decoded) {
            self.decoder.last_decoded().copy_to_vecs_planar(block);
            let [start, end] = self.ends;
            for channel in block {
                channel.truncate(channel.len().saturating_sub(end));
                channel.drain(..start.min(channel.len()));
            }
        } else {
            block.iter_mut().for_each(Vec::clear);
        }
        Ok(true)
    }

    fn cut_lead<S>(&mut self, block: &mut [Vec<S>]) {
        if self.lead_frames == 0 {
            return;
        }
        let frames = block.first().map_or(0, Vec::len) as u64;
        let cut = frames.min(self.lead_frames);
        self.lead_frames -= cut;
        for channel in block {
            channel.drain(..cut as usize);
        }
    }

    /// Takes the next packet. `first`: whatever the decoder says about rate and channels is right.
    fn step(&mut self, first: bool) -> Result<Step, Fault> {
        if self.ended {
            return Ok(Step::End);
        }
        let packet = match self.held.take() {
            Some(packet) => packet,
            None => match self.next()? {
                Next::Packet(packet) => {
                    let missing_frames = self.missing_frames(&packet);
                    if missing_frames > 0 {
                        self.held = Some(packet);
                        return Ok(Step::Silence(missing_frames));
                    }
                    packet
                }
                Next::Laced(packet) => packet,
                Next::Damaged => {
                    self.note_damage();
                    return Ok(Step::Silence(0));
                }
                Next::Reset => return self.reset(),
                Next::End => return Ok(self.end(false)),
                Next::BreaksOff => return Ok(self.end(true)),
            },
        };
        self.decode(&packet, first)
    }

    fn next(&mut self) -> Result<Next, Fault> {
        self.ahead.pop_front().map_or_else(|| self.packets.next(), Ok)
    }

    fn end(&mut self, breaks_off: bool) -> Step {
        self.ended = true;
        self.breaks_off = match self.ending {
            Ending::Told => breaks_off,
            Ending::Cut => true,
        };
        Step::End
    }

    fn decode(&mut self, packet: &Packet, first: bool) -> Result<Step, Fault> {
        self.allowance.earn(packet.data.len());
        let decoder = self.decoder.as_mut();
        let decoded = contain(|| {
            decoder.decode(packet).map(|buffer| (buffer.spec().clone(), buffer.frames()))
        });
        if let Ok(Ok((_, frames))) = &decoded {
            self.pass(packet, *frames);
        }
        match decoded {
            // A packet of which nothing came. Of some codecs the first are taken out whole.
            Ok(Ok((_, 0))) if !self.trims => return Ok(self.lose(packet)),
            Ok(Ok((spec, _))) if first => self.spec = spec,
            Ok(Ok((_, 0))) => return Ok(Step::Silence(0)),
            Ok(Ok((spec, _))) => self.check(&spec)?,
            Ok(Err(Error::ResetRequired)) => {
                self.decoder.reset();
                return Ok(Step::Silence(0));
            }
            Ok(Err(_)) => return Ok(self.lose(packet)),
            Err(_) => {
                // What the decoder left behind may be half changed: a new one goes on.
                let params = self.decoder.codec_params().clone();
                let Some(decoder) = container::decoder(&params) else { return Ok(self.end(true)) };
                self.decoder = decoder;
                return Ok(self.lose(packet));
            }
        }
        self.decoded = true;
        Ok(Step::Decoded)
    }

    /// So many frames of a packet were decoded.
    fn pass(&mut self, packet: &Packet, frames: usize) {
        self.ends = [0; 2];
        if !matches!(self.times, Times::Rounded { .. }) {
            return;
        }
        let ends = [packet.trim_start.get(), packet.trim_end.get()];
        let mut whole = frames as u64;
        if self.trims {
            whole = ends.iter().fold(whole, |sum, end| sum.saturating_add(*end));
        } else {
            self.ends = ends.map(|end| usize::try_from(end).unwrap_or(usize::MAX));
        }
        self.expect_after(whole);
    }

    fn expect_after(&mut self, frames: u64) {
        if let Some(expected) = &mut self.expected_ticks {
            *expected = expected.saturating_add_unsigned(frames);
        }
    }

    fn lose(&mut self, packet: &Packet) -> Step {
        self.note_damage();
        let frames = self.allowance.grant(self.packet_frames(packet));
        if matches!(self.times, Times::Rounded { .. }) {
            self.expect_after(frames);
        }
        Step::Silence(frames)
    }

    fn check(&self, spec: &AudioSpec) -> Result<(), Fault> {
        let same = spec.rate() == self.spec.rate()
            && spec.channels().count() == self.spec.channels().count();
        if same {
            return Ok(());
        }
        Err(Fault::Changes {
            at_s: self.frames_read as f64 / f64::from(self.spec.rate()),
            from: describe(&self.spec),
            to: describe(spec),
        })
    }

    /// Another stream follows in the same file: it goes on where this one ended.
    fn reset(&mut self) -> Result<Step, Fault> {
        let Packets::Library { reader, track, .. } = &mut self.packets else {
            return Ok(self.end(false));
        };
        let next = reader
            .first_track(TrackType::Audio)
            .and_then(|track| Some((track.id, container::decoder(container::params(track)?)?)));
        match next {
            Some((id, decoder)) => {
                *track = id;
                self.lead_frames = codec::lead_frames(decoder.codec_params());
                self.decoder = decoder;
                self.expected_ticks = None;
                Ok(Step::Silence(0))
            }
            None => Ok(self.end(false)),
        }
    }

    /// Frames of silence before a packet, by its time.
    fn missing_frames(&mut self, packet: &Packet) -> u64 {
        let start = packet.pts.get();
        match self.times {
            Times::Untold => 0,
            Times::Exact => {
                let length = i64::try_from(packet.block_dur().get()).unwrap_or(i64::MAX);
                let expected = self.expected_ticks.replace(start.saturating_add(length));
                let ahead = expected.map_or(0, |expected| ahead(start, expected));
                let frames = self.allowance.grant(self.frames(ahead));
                if frames > 0 {
                    self.note_damage();
                }
                frames
            }
            Times::Rounded { slack_frames } => {
                let expected = self.expected_ticks.replace(start);
                let ahead = ahead(start, expected.unwrap_or(0));
                if ahead <= slack_frames {
                    return 0;
                }
                let frames = self.allowance.grant(ahead);
                if expected.is_none() {
                    // The sound begins later than the film: the lead comes behind this silence.
                    self.window = self.window.clone().after_silence(frames);
                    return 0;
                }
                if frames > 0 {
                    self.gaps.note(self.now_s());
                }
                frames
            }
        }
    }

    fn packet_frames(&self, packet: &Packet) -> u64 {
        let frames = self.frames(packet.dur.get());
        if frames <= codec::MAX_PACKET_FRAMES { frames } else { 0 }
    }

    /// So many ticks of the track's clock in frames; 0 where there is no clock.
    fn frames(&self, ticks: u64) -> u64 {
        let rate = u64::from(self.spec.rate());
        let frames = match self.clock {
            Some(clock) => {
                (u128::from(ticks) * u128::from(clock.numer.get())).saturating_mul(u128::from(rate))
                    / u128::from(clock.denom.get())
            }
            None => 0,
        };
        u64::try_from(frames).unwrap_or(u64::MAX)
    }

    fn note_damage(&mut self) {
        self.damage.note(self.now_s());
    }

    fn now_s(&self) -> f64 {
        self.frames_read as f64 / f64::from(self.spec.rate().max(1))
    }
}

/// By how many ticks `start` lies behind what was expected.
fn ahead(start: i64, expected: i64) -> u64 {
    if start > expected { start.abs_diff(expected) } else { 0 }
}

/// What is known before the first packet is decoded, so that its length is known if it is damaged.
fn stated_spec(decoder: &dyn AudioDecoder) -> AudioSpec {
    let spec = decoder.last_decoded().spec().clone();
    if spec.rate() > 0 {
        return spec;
    }
    let params = decoder.codec_params();
    AudioSpec::new(params.sample_rate.unwrap_or(0), params.channels.clone().unwrap_or_default())
}

fn describe(spec: &AudioSpec) -> String {
    let count = spec.channels().count();
    let plural = if count == 1 { "" } else { "s" };
    format!("{} Hz, {count} channel{plural}", spec.rate())
}
