//! Opus (RFC 6716 and RFC 8251) as a decoder of the library's kind, which has none of its own.
//!
//! What a file says beside the packets (RFC 7845) is dealt with here but for the pre-skip, which is
//! left out behind the decoder: there it holds for damaged packets as well.

mod head;
mod streams;

use symphonia::core::audio::{
    AsGenericAudioBufferRef, AudioBuffer, AudioMut, AudioSpec, GenericAudioBufferRef,
};
use symphonia::core::codecs::CodecInfo;
use symphonia::core::codecs::audio::{AudioCodecParameters, AudioDecoder, FinalizeResult};
use symphonia::core::errors::{Error, Result};
use symphonia::core::packet::PacketRef;

pub(super) use head::Head;
use streams::Streams;

/// Opus is decoded at this rate, whatever the rate of what was encoded (RFC 7845, 5.1).
pub(super) const RATE_HZ: u32 = 48_000;

/// A packet holds at most 120 ms (RFC 6716, 3.2.5).
const MOST_FRAMES: usize = 5760;

const INFO: CodecInfo = CodecInfo { short_name: "opus", long_name: "Opus", profiles: &[] };

/// Decodes packets of Opus, of one stream or several.
pub(super) struct OpusDecoder {
    params: AudioCodecParameters,
    streams: Streams,
    /// What the output gain multiplies by.
    gain: f32,
    /// What the streams put out, a frame after another.
    frames: Vec<f32>,
    buffer: AudioBuffer<f32>,
}

impl OpusDecoder {
    /// None where the header makes no sense, or asks for channels in a way that is not known here.
    pub(super) fn new(params: &AudioCodecParameters) -> Option<Self> {
        let head = Head::of(params)?;
        let channels = head.channels();
        let streams = Streams::new(&head)?;
        let gain = head.gain();
        let spec = AudioSpec::new(RATE_HZ, channels.clone());
        let frames = vec![0.0; MOST_FRAMES * channels.count()];
        let mut params = params.clone();
        params.with_sample_rate(RATE_HZ).with_channels(channels);
        let buffer = AudioBuffer::new(spec, MOST_FRAMES);
        Some(Self { params, streams, gain, frames, buffer })
    }
}

impl AudioDecoder for OpusDecoder {
    fn reset(&mut self) {
        if let Some(fresh) = Head::of(&self.params).and_then(|head| Streams::new(&head)) {
            self.streams = fresh;
        }
    }

    fn codec_info(&self) -> &CodecInfo {
        &INFO
    }

    fn codec_params(&self) -> &AudioCodecParameters {
        &self.params
    }

    fn decode_ref(&mut self, packet: &PacketRef<'_>) -> Result<GenericAudioBufferRef<'_>> {
        self.buffer.clear();
        let Some(count) = self.streams.decode(packet.data, &mut self.frames) else {
            return Err(Error::DecodeError("opus: the packet is damaged"));
        };
        self.buffer.render_uninit(Some(count));
        let channels = self.params.channels.as_ref().map_or(1, |channels| channels.count());
        for (channel, plane) in self.buffer.iter_planes_mut().enumerate() {
            let samples = self.frames.iter().skip(channel).step_by(channels);
            for (sample, decoded) in plane.iter_mut().zip(samples) {
                *sample = decoded * self.gain;
            }
        }
        let trimmed = |frames: u64| usize::try_from(frames).unwrap_or(usize::MAX).min(count);
        self.buffer.trim(trimmed(packet.trim_start.get()), trimmed(packet.trim_end.get()));
        Ok(self.buffer.as_generic_audio_buffer_ref())
    }

    fn finalize(&mut self) -> FinalizeResult {
        FinalizeResult::default()
    }

    fn last_decoded(&self) -> GenericAudioBufferRef<'_> {
        self.buffer.as_generic_audio_buffer_ref()
    }
}
