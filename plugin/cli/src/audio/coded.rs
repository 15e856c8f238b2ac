//! A coded track: packets in, blocks of samples out, damage bridged with silence.

use symphonia::core::audio::AudioSpec;
use symphonia::core::codecs::audio::AudioDecoder;
use symphonia::core::errors::Error;
use symphonia::core::formats::TrackType;
use symphonia::core::packet::Packet;
use symphonia::core::units::TimeBase;

use super::codec;
use super::contain::contain;
use super::container;
use super::damage::Damage;
use super::error::Fault;
use super::linear::Sample;
use super::packets::{Next, Packets};
use super::window::Window;

/// A loss longer than this, in seconds, is a lie about the time.
const MAX_GAP_S: u64 = 10;

/// Frames of silence handed out at once.
const SILENT_BLOCK_FRAMES: u64 = 16_384;

/// A track that is decoded packet by packet.
pub(super) struct CodedTrack {
    packets: Packets,
    decoder: Box<dyn AudioDecoder>,
    clock: Option<TimeBase>,
    spec: AudioSpec,
    window: Window,
    /// The decoder takes delay and padding out by itself.
    trims: bool,
    /// The library's reader states each packet's time to the frame, so that a jump is a loss.
    exact_times: bool,
    expected_ticks: Option<i64>,
    /// A packet that waits behind the silence before it.
    held: Option<Packet>,
    silence_frames: u64,
    /// The decoder holds a block that was not handed out yet.
    decoded: bool,
    frames_read: u64,
    damage: Damage,
    ended: bool,
    /// The file ends within a packet.
    breaks_off: bool,
    ending: Ending,
}

/// What it means that the packets come to an end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ending {
    /// The reader can tell an end from a break.
    Told,
    /// The container states no length that could be checked: every end is taken for the end.
    Untold,
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
        clock: Option<TimeBase>,
        window: Window,
        exact_times: bool,
        ending: Ending,
    ) -> Result<Self, Fault> {
        let spec = stated_spec(decoder.as_ref());
        let trims = codec::is_trimmed_by_decoder(decoder.codec_params().codec);
        let mut track = Self {
            packets,
            decoder,
            clock,
            spec,
            window,
            trims,
            exact_times,
            expected_ticks: None,
            held: None,
            silence_frames: 0,
            decoded: false,
            frames_read: 0,
            damage: Damage::default(),
            ended: false,
            breaks_off: false,
            ending,
        };
        track.prime()?;
        Ok(track)
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
        self.silence_frames = lost_frames.min(MAX_GAP_S * u64::from(self.spec.rate()));
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

    pub(super) fn damage(&self) -> &Damage {
        &self.damage
    }

    /// The next block, never empty; false at the end.
    pub(super) fn read<S: Sample>(&mut self, block: &mut Vec<Vec<S>>) -> Result<bool, Fault> {
        loop {
            if self.window.is_past() || !self.fill(block)? {
                block.iter_mut().for_each(Vec::clear);
                return Ok(false);
            }
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
            block.resize_with(self.spec.channels().count(), Vec::new);
            for channel in block {
                channel.clear();
                channel.resize(frames as usize, S::default());
            }
        } else if std::mem::take(&mut self.decoded) {
            self.decoder.last_decoded().copy_to_vecs_planar(block);
        } else {
            block.iter_mut().for_each(Vec::clear);
        }
        Ok(true)
    }

    /// Takes the next packet. `first`: whatever the decoder says about rate and channels is right.
    fn step(&mut self, first: bool) -> Result<Step, Fault> {
        if self.ended {
            return Ok(Step::End);
        }
        let packet = match self.held.take() {
            Some(packet) => packet,
            None => match self.packets.next()? {
                Next::Packet(packet) => {
                    let missing_frames = self.missing_frames(&packet);
                    if missing_frames > 0 {
                        self.held = Some(packet);
                        self.note_damage();
                        return Ok(Step::Silence(missing_frames));
                    }
                    packet
                }
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

    fn end(&mut self, breaks_off: bool) -> Step {
        self.ended = true;
        self.breaks_off = match self.ending {
            Ending::Told => breaks_off,
            Ending::Untold => false,
            Ending::Cut => true,
        };
        Step::End
    }

    fn decode(&mut self, packet: &Packet, first: bool) -> Result<Step, Fault> {
        let decoder = self.decoder.as_mut();
        let decoded = contain(|| {
            decoder.decode(packet).map(|buffer| (buffer.spec().clone(), buffer.frames()))
        });
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

    fn lose(&mut self, packet: &Packet) -> Step {
        self.note_damage();
        Step::Silence(self.packet_frames(packet))
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
                self.decoder = decoder;
                self.expected_ticks = None;
                Ok(Step::Silence(0))
            }
            None => Ok(self.end(false)),
        }
    }

    /// Frames lost before a packet, by its time.
    fn missing_frames(&mut self, packet: &Packet) -> u64 {
        if !self.exact_times {
            return 0;
        }
        let start = packet.pts.get();
        let length = i64::try_from(packet.block_dur().get()).unwrap_or(i64::MAX);
        let expected = self.expected_ticks.replace(start.saturating_add(length));
        match expected {
            Some(expected) if start > expected => self.frames(start.abs_diff(expected)),
            _ => 0,
        }
    }

    fn packet_frames(&self, packet: &Packet) -> u64 {
        let frames = self.frames(packet.dur.get());
        if frames <= codec::MAX_PACKET_FRAMES { frames } else { 0 }
    }

    /// So many ticks of the track's clock in frames; 0 where that is no sensible length.
    fn frames(&self, ticks: u64) -> u64 {
        let rate = u64::from(self.spec.rate());
        let frames = match self.clock {
            Some(clock) => {
                u128::from(ticks) * u128::from(clock.numer.get()) * u128::from(rate)
                    / u128::from(clock.denom.get())
            }
            None => 0,
        };
        u64::try_from(frames).ok().filter(|frames| *frames <= MAX_GAP_S * rate).unwrap_or(0)
    }

    fn note_damage(&mut self) {
        let at_s = self.frames_read as f64 / f64::from(self.spec.rate().max(1));
        self.damage.note(at_s);
    }
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
