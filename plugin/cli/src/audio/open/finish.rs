//! From a container and a track of it to something that can be read, and what is told about it.

use symphonia::core::codecs::audio::AudioCodecParameters;
use symphonia::core::codecs::audio::well_known::{CODEC_ID_AAC, CODEC_ID_MP2, CODEC_ID_MP3};
use symphonia::core::formats::Track;
use symphonia::core::units::{Duration, TimeBase};

use super::Opened;
use super::about::{About, check_channels};
use crate::audio::codec::{self, Codec};
use crate::audio::coded::{CodedTrack, Ending, Terms, Times};
use crate::audio::container::{Chosen, Container};
use crate::audio::error::Fault;
use crate::audio::packets::Packets;
use crate::audio::window::Window;
use crate::audio::{Body, roles};

/// Half of 48 kHz, the highest rate at which HE-AAC is used in practice.
const HIGHEST_HALF_RATE_HZ: u32 = 24_000;

/// A track that was chosen, and how it is read.
pub(super) struct Way<'a> {
    pub(super) name: &'a str,
    /// Where its packets come from; none: the container's reader.
    pub(super) packets: Option<Packets>,
    /// What of it is heard.
    pub(super) window: Window,
    pub(super) ending: Ending,
    /// Bytes of the file; 0 for a pipe.
    pub(super) file_bytes: u64,
}

impl Way<'_> {
    pub(super) fn finish(self, container: Container, chosen: Chosen) -> Result<Opened, Fault> {
        let Way { name, packets, window, ending, file_bytes } = self;
        let tracks = container.tracks();
        let Chosen { track, params, decoder, info } = chosen;
        let short = container.reader.format_info().short_name;
        let movie_ticks =
            container.movie_track(track.id).map(|movie| (movie.total_ticks, movie.clock_hz));
        let media = container.reader.media_info();
        let estimates_s =
            [seconds(track.time_base, track.duration), seconds(media.time_base, media.duration)];
        let is_mp4 = matches!(packets, Some(Packets::Mp4(_)));
        // An edit list says what is heard, and then leaves out what the codec's own header would.
        let lead_frames = if window.is_all() { codec::lead_frames(&params) } else { 0 };
        let (clock, times) = (track.time_base, Times::Untold);
        let terms = Terms { clock, times, lead_frames, window, ending, file_bytes };
        let terms = match &packets {
            Some(Packets::Matroska(blocks)) => {
                let clock = TimeBase::try_new(1, codec::clock_hz(&params));
                let times = Times::Rounded { slack_frames: blocks.slack_frames() };
                let lead_frames = match blocks.delay_frames() {
                    0 => lead_frames,
                    delay => delay,
                };
                Terms { clock, times, lead_frames, ..terms }
            }
            None if matches!(short, "flac" | "ogg") => Terms { times: Times::Exact, ..terms },
            _ => terms,
        };
        let packets = packets.unwrap_or_else(|| Packets::of_library(container.reader, track.id));
        let body = CodedTrack::new(packets, decoder, terms)?;
        check_channels(body.spec().channels().count())?;
        let rate_hz = body.spec().rate();
        let frames = match movie_ticks {
            Some((ticks, clock_hz)) if is_mp4 && clock_hz > 0 => {
                let total = u128::from(ticks) * u128::from(rate_hz) / u128::from(clock_hz);
                Some(body.window().frames(u64::try_from(total).unwrap_or(u64::MAX)))
            }
            _ => promised_frames(short, &track, &params),
        };
        let frames = frames.map(|frames| frames.saturating_sub(lead_frames));
        let promised_s = frames.map(|frames| frames as f64 / f64::from(rate_hz));
        let estimated_s = estimates_s.into_iter().flatten().find(|duration_s| *duration_s > 0.0);
        let about = About {
            name,
            container: container.format,
            codec: Codec::of(&params),
            rate_hz,
            roles: roles::of_channels(body.spec().channels()),
            frames,
            duration_s: promised_s.or(estimated_s),
        };
        let info = about.of_tracks(&info, tracks);
        let warnings = half_band_warning(&params, rate_hz).into_iter().collect();
        Ok(Opened { info, body: Body::Coded(Box::new(body)), warnings })
    }
}

/// HE-AAC is plain AAC at half the rate, with data beside it from which the upper half of the band
/// is made; where the header does not tell it apart, the rate is the only hint.
fn half_band_warning(params: &AudioCodecParameters, rate_hz: u32) -> Option<String> {
    (params.codec == CODEC_ID_AAC && rate_hz <= HIGHEST_HALF_RATE_HZ).then(|| {
        format!(
            "AAC at {rate_hz} Hz may be HE-AAC: then only the band below {} Hz was decoded.",
            rate_hz / 2
        )
    })
}

fn seconds(clock: Option<TimeBase>, ticks: Option<Duration>) -> Option<f64> {
    let (clock, ticks) = clock.zip(ticks)?;
    Some(ticks.get() as f64 * f64::from(clock.numer.get()) / f64::from(clock.denom.get()))
}

/// What the header promises, where it is a promise and not the reader's estimate.
fn promised_frames(format: &str, track: &Track, params: &AudioCodecParameters) -> Option<u64> {
    let stated = match format {
        "mp1" | "mp2" | "mp3" => track.delay.is_some(),
        "ogg" => track.start_ts.get() == 0,
        "flac" | "caf" | "aiff" => true,
        "wave" => !matches!(params.codec, CODEC_ID_MP3 | CODEC_ID_MP2),
        _ => false,
    };
    track.num_frames.filter(|_| stated)
}
