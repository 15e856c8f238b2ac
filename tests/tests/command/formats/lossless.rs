//! Every lossless format and word length: the samples come back as they went in, to the bit.

use super::tools::{RATE_HZ, by_ffmpeg, run, text};
use super::words::{Signal, Words};
use super::{Sound, read};
use ledgerline_tests::folder::Folder;

const FRAMES: usize = 20_011;

/// File name, words, options of the program that makes it, container and codec as they are told.
type Case = (&'static str, Words, &'static [&'static str], &'static str, &'static str);

const BY_FFMPEG: [Case; 31] = [
    ("8.wav", Words::U8, &["-c:a", "pcm_u8"], "WAV", "PCM, 8 bit"),
    ("16.wav", Words::S16, &["-c:a", "pcm_s16le"], "WAV", "PCM, 16 bit"),
    ("24.wav", Words::S24, &["-c:a", "pcm_s24le"], "WAV", "PCM, 24 bit"),
    ("32.wav", Words::S32, &["-c:a", "pcm_s32le"], "WAV", "PCM, 32 bit"),
    ("f32.wav", Words::F32, &["-c:a", "pcm_f32le"], "WAV", "PCM, 32 bit float"),
    ("f64.wav", Words::F64, &["-c:a", "pcm_f64le"], "WAV", "PCM, 64 bit float"),
    ("rf64.wav", Words::S24, &["-c:a", "pcm_s24le", "-rf64", "always"], "RF64", "PCM, 24 bit"),
    ("8.aiff", Words::U8, &["-c:a", "pcm_s8"], "AIFF", "PCM, 8 bit"),
    ("16.aiff", Words::S16, &["-c:a", "pcm_s16be"], "AIFF", "PCM, 16 bit"),
    ("24.aiff", Words::S24, &["-c:a", "pcm_s24be"], "AIFF", "PCM, 24 bit"),
    ("32.aiff", Words::S32, &["-c:a", "pcm_s32be"], "AIFF", "PCM, 32 bit"),
    ("16.aifc", Words::S16, &["-c:a", "pcm_s16le", "-f", "aiff"], "AIFF-C", "PCM, 16 bit"),
    ("f32.aifc", Words::F32, &["-c:a", "pcm_f32be", "-f", "aiff"], "AIFF-C", "PCM, 32 bit float"),
    ("f64.aifc", Words::F64, &["-c:a", "pcm_f64be", "-f", "aiff"], "AIFF-C", "PCM, 64 bit float"),
    ("16.caf", Words::S16, &["-c:a", "pcm_s16be"], "CAF", "PCM, 16 bit"),
    ("24.caf", Words::S24, &["-c:a", "pcm_s24le"], "CAF", "PCM, 24 bit"),
    ("f32.caf", Words::F32, &["-c:a", "pcm_f32le"], "CAF", "PCM, 32 bit float"),
    ("f64.caf", Words::F64, &["-c:a", "pcm_f64be"], "CAF", "PCM, 64 bit float"),
    ("alac.caf", Words::S16, &["-c:a", "alac"], "CAF", "ALAC, 16 bit"),
    ("16.flac", Words::S16, &["-c:a", "flac"], "FLAC", "FLAC, 16 bit"),
    ("24.flac", Words::S24, &["-c:a", "flac"], "FLAC", "FLAC, 24 bit"),
    ("24.oga", Words::S24, &["-c:a", "flac", "-f", "ogg"], "Ogg", "FLAC, 24 bit"),
    ("16.m4a", Words::S16, &["-c:a", "alac"], "M4A", "ALAC, 16 bit"),
    ("24.m4a", Words::S24, &["-c:a", "alac"], "M4A", "ALAC, 24 bit"),
    ("flac.mp4", Words::S24, &["-c:a", "flac", "-strict", "-2"], "MP4", "FLAC, 24 bit"),
    ("16.mov", Words::S16, &["-c:a", "pcm_s16le"], "MOV", "PCM, 16 bit"),
    ("24.mov", Words::S24, &["-c:a", "pcm_s24le"], "MOV", "PCM, 24 bit"),
    ("24be.mov", Words::S24, &["-c:a", "pcm_s24be"], "MOV", "PCM, 24 bit"),
    ("f32.mov", Words::F32, &["-c:a", "pcm_f32le"], "MOV", "PCM, 32 bit float"),
    ("24.mkv", Words::S24, &["-c:a", "pcm_s24le"], "Matroska", "PCM, 24 bit"),
    ("flac.mkv", Words::S16, &["-c:a", "flac"], "Matroska", "FLAC, 16 bit"),
];

#[test]
#[ignore = "needs ffmpeg and sox"]
fn files_by_ffmpeg_give_the_samples_that_were_put_in() {
    let folder = Folder::new("formats-lossless");
    for (name, words, options, format, codec) in BY_FFMPEG {
        let signal = Signal::new(words, 2, FRAMES);
        let sound = read(&by_ffmpeg(&folder, name, words, &signal, options), None);
        check(name, &sound, &signal, words);
        assert_eq!((sound.info.format.as_str(), sound.info.codec.as_str()), (format, codec));
    }
}

#[test]
#[ignore = "needs ffmpeg and sox"]
fn files_by_sox_give_the_samples_that_were_put_in() {
    let folder = Folder::new("formats-sox");
    let cases = [
        ("24.wav", Words::S24, "WAV"),
        ("16.aiff", Words::S16, "AIFF"),
        ("24.aiff", Words::S24, "AIFF"),
        ("24.flac", Words::S24, "FLAC"),
        ("f32.wav", Words::F32, "WAV"),
    ];
    for (name, words, format) in cases {
        // sox clips what passes full scale, whatever the format.
        let mut signal = Signal::new(words, 2, FRAMES);
        if words.is_float() {
            signal = clipped(words);
        }
        let raw = text(&folder.file("raw", &signal.raw));
        let bits = words.bits().to_string();
        let encoding = if words.is_float() { "floating-point" } else { "signed-integer" };
        let rate = RATE_HZ.to_string();
        let path = folder.join(name);
        run(
            "sox",
            &[
                "-D",
                "-t",
                "raw",
                "-r",
                &rate,
                "-c",
                "2",
                "-b",
                &bits,
                "-e",
                encoding,
                "-L",
                &raw,
                &text(&path),
            ],
        );
        let sound = read(&path, None);
        check(name, &sound, &signal, words);
        assert_eq!(sound.info.format, format);
    }
}

/// sox keeps samples as 32-bit integers, so that only words of up to 24 bits pass it.
fn clipped(words: Words) -> Signal {
    let source = Signal::new(Words::S24, 2, FRAMES);
    let mut raw = Vec::new();
    for frame in 0..FRAMES {
        for channel in &source.channels {
            raw.extend(words.quantised(channel[frame]).1);
        }
    }
    Signal { channels: source.channels, raw }
}

#[test]
#[ignore = "needs ffmpeg and sox"]
fn six_channels_keep_their_order_and_their_roles() {
    use ledgerline_measure::ChannelRole::{Center, Left, LowFrequency, Right, Surround};
    let folder = Folder::new("formats-six");
    for (name, options) in [
        ("6.wav", ["-c:a", "pcm_s24le"]),
        ("6.flac", ["-c:a", "flac"]),
        ("6.caf", ["-c:a", "pcm_s24be"]),
        ("6.mkv", ["-c:a", "flac"]),
    ] {
        let signal = Signal::new(Words::S24, 6, 5_000);
        let sound = read(&by_ffmpeg(&folder, name, Words::S24, &signal, &options), None);
        check(name, &sound, &signal, Words::S24);
        let roles = [Left, Right, Center, LowFrequency, Surround, Surround];
        assert_eq!(sound.info.roles, roles, "{name}");
    }
}

fn check(name: &str, sound: &Sound, signal: &Signal, words: Words) {
    assert_eq!(sound.warnings, Vec::<String>::new(), "{name}");
    assert_eq!(sound.info.sample_rate_hz, RATE_HZ, "{name}");
    assert_eq!(sound.info.bits, Some(words.bits()), "{name}");
    assert_eq!((sound.info.float, sound.info.lossy), (words.is_float(), false), "{name}");
    assert_eq!(sound.channels.len(), signal.channels.len(), "{name}");
    for (channel, (got, put)) in sound.channels.iter().zip(&signal.channels).enumerate() {
        assert_eq!(got.len(), put.len(), "{name}: length of channel {channel}");
        let differs = got.iter().zip(put).position(|(got, put)| got != put);
        assert_eq!(differs, None, "{name}: channel {channel}");
    }
}
