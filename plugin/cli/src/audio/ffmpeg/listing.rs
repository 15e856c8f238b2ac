//! What `ffmpeg` says of a file that it is given without an order: its version, the container, the
//! streams.

use crate::audio::TrackInfo;
use crate::audio::codec::Codec;

/// What was said.
#[derive(Debug, Default, PartialEq)]
pub(super) struct Listing {
    /// Of the program.
    pub(super) version: String,
    /// Names of its reader, with commas between.
    container: String,
    pub(super) duration_s: Option<f64>,
    streams: Vec<Stream>,
}

/// One stream of sound.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Stream {
    /// Its number among those of sound, from 1.
    number: u32,
    language: Option<String>,
    /// What it calls the codec, and its profile.
    codec: String,
    profile: Option<String>,
    rate_hz: u32,
    channels: usize,
    /// The kind of sample that its decoder gives.
    sample: String,
    /// Bits of a sample that count, where it says so.
    bits: Option<u32>,
    is_default: bool,
}

/// What it calls containers, and what they are called here.
const CONTAINERS: [(&str, &str); 12] = [
    ("mpegts", "MPEG transport stream"),
    ("mpeg", "MPEG program stream"),
    ("mov", "MP4"),
    ("matroska", "Matroska"),
    ("ogg", "Ogg"),
    ("ac3", "AC-3"),
    ("eac3", "E-AC-3"),
    ("truehd", "TrueHD"),
    ("wv", "WavPack"),
    ("tta", "True Audio"),
    ("ape", "Monkey's Audio"),
    ("aac", "ADTS"),
];

/// The same of codecs; the last says whether they keep every sample.
const CODECS: [(&str, &str, bool); 15] = [
    ("ac3", "AC-3", false),
    ("eac3", "E-AC-3", false),
    ("dts", "DTS", false),
    ("truehd", "TrueHD", true),
    ("mlp", "MLP", true),
    ("mp1", "MPEG layer 1", false),
    ("mp2", "MPEG layer 2", false),
    ("mp3", "MP3", false),
    ("wmav1", "WMA", false),
    ("wmav2", "WMA", false),
    ("wmapro", "WMA Pro", false),
    ("wmalossless", "WMA Lossless", true),
    ("wavpack", "WavPack", true),
    ("ape", "Monkey's Audio", true),
    ("tta", "True Audio", true),
];

impl Listing {
    pub(super) fn parse(told: &str) -> Self {
        let mut listing = Self::default();
        for line in told.lines() {
            if let Some(rest) = line.strip_prefix("ffmpeg version ") {
                listing.version = rest.split(' ').next().unwrap_or_default().to_owned();
            } else if let Some(rest) = line.strip_prefix("Input #0, ") {
                listing.container = rest.split(", from ").next().unwrap_or_default().to_owned();
            } else if let Some(rest) = line.trim_start().strip_prefix("Duration: ") {
                listing.duration_s = listing.duration_s.or_else(|| seconds(rest));
            } else if let Some(rest) = line.trim_start().strip_prefix("Stream #0:")
                && let Some((front, told)) = rest.split_once(": Audio: ")
            {
                let number = listing.streams.len() as u32 + 1;
                listing.streams.push(Stream { number, ..Stream::parse(front, told) });
            }
        }
        listing
    }

    /// The stream of that number; else the default one, or the first.
    pub(super) fn choose(&self, number: Option<u32>) -> Option<&Stream> {
        match number {
            Some(number) => self.streams.iter().find(|stream| stream.number == number),
            None => self.streams.iter().find(|stream| stream.is_default).or(self.streams.first()),
        }
    }

    pub(super) fn container(&self) -> String {
        let name = self.container.split(',').next().unwrap_or_default();
        let known = CONTAINERS.iter().find(|(theirs, _)| *theirs == name);
        known.map_or_else(|| name.to_uppercase(), |(_, ours)| (*ours).to_owned())
    }

    pub(super) fn tracks(&self) -> Vec<TrackInfo> {
        self.streams.iter().map(Stream::track).collect()
    }
}

impl Stream {
    fn parse(front: &str, told: &str) -> Self {
        let mut parts = told.split(", ");
        let coded = parts.next().unwrap_or_default();
        let codec = coded.split(' ').next().unwrap_or_default();
        // "dts (DTS-HD MA) (DTS / 0x20535444)": what holds a slash is a tag of the container's.
        let profile = coded.split(" (").skip(1).map(|word| word.trim_end_matches(')'));
        let profile = profile.filter(|word| !word.contains('/')).map(str::to_owned).next();
        let rate = parts.next().and_then(|rate| rate.strip_suffix(" Hz")?.parse().ok());
        let channels = parts.next().map_or(0, channels);
        let sample = parts.next().unwrap_or_default();
        let bits =
            sample.split_once('(').and_then(|(_, bits)| bits.split(' ').next()?.parse().ok());
        let language = front.split_once('(').map(|(_, word)| word.trim_end_matches(')').to_owned());
        Self {
            number: 0,
            language: language.filter(|language| language != "und"),
            codec: codec.to_owned(),
            profile,
            rate_hz: rate.unwrap_or(0),
            channels,
            sample: sample.split(' ').next().unwrap_or_default().to_owned(),
            bits,
            is_default: told.contains("(default)"),
        }
    }

    /// Which of the streams of sound, counted from 0.
    pub(super) fn index(&self) -> u32 {
        self.number - 1
    }

    /// Its decoder would change the level by what the stream says of its dynamics.
    pub(super) fn has_dynamics(&self) -> bool {
        matches!(self.codec.as_str(), "ac3" | "eac3")
    }

    pub(super) fn codec(&self) -> Codec {
        if let Some(word) = self.codec.strip_prefix("pcm_") {
            let digits: String = word.chars().filter(char::is_ascii_digit).collect();
            if let Ok(bits) = digits.parse() {
                return Codec::linear(bits, word.starts_with('f'));
            }
        }
        let known = CODECS.iter().find(|(theirs, ..)| *theirs == self.codec);
        let profile = self.profile.as_deref();
        let (name, lossless) = match (self.codec.as_str(), profile) {
            ("aac", Some("LC")) => ("AAC-LC".to_owned(), false),
            ("aac", Some("HE-AACv2")) => ("HE-AAC v2".to_owned(), false),
            ("aac", Some(profile)) if profile.contains("AAC") => (profile.to_owned(), false),
            ("dts", Some(profile)) => (profile.to_owned(), profile == "DTS-HD MA"),
            _ => known.map_or_else(
                || (self.codec.to_uppercase(), false),
                |(_, ours, lossless)| ((*ours).to_owned(), *lossless),
            ),
        };
        let word_bits = if self.sample.starts_with("s16") { 16 } else { 32 };
        let bits = lossless.then(|| self.bits.unwrap_or(word_bits));
        Codec { name, bits, float: false, lossy: !lossless }
    }

    pub(super) fn track(&self) -> TrackInfo {
        TrackInfo {
            number: self.number,
            codec: self.codec().name,
            channels: self.channels,
            sample_rate_hz: self.rate_hz,
            language: self.language.clone(),
            readable: true,
        }
    }
}

/// "00:01:02.50" in seconds.
fn seconds(told: &str) -> Option<f64> {
    let clock = told.split(',').next()?;
    clock.split(':').try_fold(0.0, |sum, part| Some(sum * 60.0 + part.parse::<f64>().ok()?))
}

/// How many channels a layout of that name has; 0 where the name does not say.
fn channels(layout: &str) -> usize {
    let layout = layout.split('(').next().unwrap_or_default().trim();
    match layout {
        "mono" => 1,
        "stereo" | "downmix" => 2,
        "quad" => 4,
        "hexagonal" => 6,
        "octagonal" => 8,
        other => {
            let counts = other.split(' ').next().unwrap_or_default().split('.');
            counts.map(|count| count.parse().unwrap_or(0)).sum()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn streams_of_sound_are_found_and_named() {
        let told = "ffmpeg version 7.1-static Copyright (c)\n\
            Input #0, mpegts, from 'file:/a, b.ts':\n\
            \x20 Duration: 00:01:02.50, start: 1.400000, bitrate: 1 kb/s\n\
            \x20 Stream #0:0[0x100]: Video: h264 (High), yuv420p, 25 fps\n\
            \x20 Stream #0:1[0x101](eng): Audio: ac3 (AC-3 / 0x332D4341), 48000 Hz, 5.1(side), fltp, \
            448 kb/s\n\
            \x20 Stream #0:2(und): Audio: aac (HE-AAC) ([15][0][0][0] / 0x000F), 44100 Hz, stereo, \
            fltp (default)\n\
            \x20 Stream #0:3: Audio: dts (DTS-HD MA), 96000 Hz, 7.1, s32p (24 bit)\n\
            \x20 Stream #0:4: Audio: pcm_s24be, 48000 Hz, 12 channels, s32 (24 bit)\n";
        let listing = Listing::parse(told);
        assert_eq!((listing.version.as_str(), listing.duration_s), ("7.1-static", Some(62.5)));
        assert_eq!(listing.container(), "MPEG transport stream");
        let lines: Vec<String> = listing.tracks().iter().map(ToString::to_string).collect();
        let expected = [
            "track 1: AC-3, 6 channels, 48 kHz, eng",
            "track 2: HE-AAC, 2 channels, 44.1 kHz",
            "track 3: DTS-HD MA, 8 channels, 96 kHz",
            "track 4: PCM, 24 bit, 12 channels, 48 kHz",
        ];
        assert_eq!(lines, expected);
        assert_eq!(listing.choose(None).map(Stream::index), Some(1));
        assert_eq!(listing.choose(Some(3)).map(|stream| stream.codec().bits), Some(Some(24)));
        assert_eq!(listing.choose(Some(5)), None);
    }
}
