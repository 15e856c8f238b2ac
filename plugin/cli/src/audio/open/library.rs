//! Opening what the library parses, whole or cut short.

use std::fs::File;

use symphonia::core::codecs::audio::AudioCodecParameters;
use symphonia::core::codecs::audio::well_known::{CODEC_ID_AAC, CODEC_ID_MP2, CODEC_ID_MP3};
use symphonia::core::formats::Track;
use symphonia::core::io::MediaSource;
use symphonia::core::units::{Duration, TimeBase};

use super::Opened;
use super::about::{About, check_channels};
use crate::audio::caf::CutCaf;
use crate::audio::codec::{self, Codec};
use crate::audio::coded::{CodedTrack, Ending};
use crate::audio::container::{Chosen, Container};
use crate::audio::error::Fault;
use crate::audio::kind::Kind;
use crate::audio::packets::Packets;
use crate::audio::source::{Reader, Source};
use crate::audio::window::Window;
use crate::audio::{Body, roles};

/// Half of 48 kHz, the highest rate at which HE-AAC is used in practice.
const HIGHEST_HALF_RATE_HZ: u32 = 24_000;

/// The first bytes of Matroska, and of everything else in EBML.
pub(super) const MATROSKA: &[u8] = b"\x1a\x45\xdf\xa3";

/// What to open with the library's readers.
pub(super) struct Request<'a> {
    pub(super) kind: Kind,
    pub(super) head: &'a [u8],
    pub(super) name: &'a str,
    pub(super) track: Option<u32>,
    /// The part to keep, where something else than the library's reader knows it.
    pub(super) window: Option<Window>,
}

impl Request<'_> {
    pub(super) fn open(
        &self,
        source: impl MediaSource + 'static,
        ending: Ending,
    ) -> Result<Opened, Fault> {
        let container = Container::open(Box::new(source), self.kind, self.head)?;
        let chosen = container.choose(self.track)?;
        let window = self.window.clone().unwrap_or_else(|| stated_window(&chosen));
        finish(container, chosen, window, None, self.name, ending)
    }

    /// Most of the library's readers look for what stands behind the sound and refuse a file that
    /// ends before. Read like a pipe, such a file gives what there is of it.
    pub(super) fn open_whole_or_cut(&self, file: File) -> Result<Opened, Fault> {
        let again = file.try_clone().map_err(Fault::Unreadable)?;
        let opened = self.open(Source::of_file(file)?.into_reader(), Ending::Told);
        match opened {
            Err(fault @ (Fault::BadHeader(_) | Fault::NothingDecoded(_))) => {
                self.open_cut(again).map_err(|_| fault)
            }
            opened => opened,
        }
    }

    fn open_cut(&self, file: File) -> Result<Opened, Fault> {
        if self.head.starts_with(b"caff") {
            let cut = CutCaf::new(file).map_err(Fault::Unreadable)?;
            return self.open(cut.ok_or(Fault::NotAudio)?, Ending::Cut);
        }
        self.open(Reader::as_pipe(file)?, Ending::Cut)
    }
}

/// Delay and length where the container states them and neither its reader nor the decoder takes
/// them out: CAF.
fn stated_window(chosen: &Chosen) -> Window {
    let trims = codec::is_trimmed_by_decoder(chosen.params.codec);
    if trims || chosen.track.delay.is_none() && chosen.track.padding.is_none() {
        return Window::all();
    }
    let start = u64::from(chosen.track.delay.unwrap_or(0));
    let frames = chosen.track.num_frames.unwrap_or(u64::MAX);
    Window::one(start, frames)
}

pub(super) fn finish(
    container: Container,
    chosen: Chosen,
    window: Window,
    packets: Option<Packets>,
    name: &str,
    ending: Ending,
) -> Result<Opened, Fault> {
    let tracks = container.tracks();
    let Chosen { track, params, decoder, info } = chosen;
    let short = container.reader.format_info().short_name;
    let exact_times = packets.is_none() && matches!(short, "flac" | "ogg");
    let movie_ticks =
        container.movie_track(track.id).map(|movie| (movie.total_ticks, movie.clock_hz));
    let media = container.reader.media_info();
    let estimates_s =
        [seconds(track.time_base, track.duration), seconds(media.time_base, media.duration)];
    let is_mp4 = packets.is_some();
    let packets = packets.unwrap_or_else(|| Packets::of_library(container.reader, track.id));
    let body = CodedTrack::new(packets, decoder, track.time_base, window, exact_times, ending)?;
    check_channels(body.spec().channels().count())?;
    let rate_hz = body.spec().rate();
    let frames = match movie_ticks {
        Some((ticks, clock_hz)) if is_mp4 && clock_hz > 0 => {
            let total = u128::from(ticks) * u128::from(rate_hz) / u128::from(clock_hz);
            Some(body.window().frames(u64::try_from(total).unwrap_or(u64::MAX)))
        }
        _ => promised_frames(short, &track, &params),
    };
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
