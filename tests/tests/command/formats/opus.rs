//! Opus in every container that has it, against the reference decoder.

use std::path::Path;

use ledgerline_measure::ChannelRole::{Center, Left, LowFrequency, Right, Surround};

use super::tools::{by_ffmpeg, decoded_with, text};
use super::words::{Signal, Words};
use super::{Sound, read};
use ledgerline_tests::folder::Folder;

const FRAMES: usize = 48_777;

/// −90 dB: the reference decoder in two versions, compiled by two compilers, differs by far less.
const MOST_DIFFERENCE: f64 = 3.2e-5;

fn seed(name: &str) -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("seeds").join(name)
}

#[test]
fn opus_is_as_long_as_what_was_encoded() {
    for (name, container) in [("opus.opus", "Ogg"), ("opus.webm", "WebM"), ("opus.mp4", "MP4")] {
        let sound = read(&seed(name), None);
        assert_eq!((sound.info.format.as_str(), sound.info.codec.as_str()), (container, "Opus"));
        assert_eq!((sound.info.sample_rate_hz, sound.info.lossy), (48_000, true), "{name}");
        assert_eq!(sound.channels[0].len(), 4800, "{name}");
        assert_eq!(sound.warnings, Vec::<String>::new(), "{name}");
    }
}

#[test]
fn the_output_gain_is_applied() {
    let folder = Folder::new("formats-opus-gain");
    let plain = read(&seed("opus.webm"), None);
    let mut bytes = std::fs::read(seed("opus.webm")).expect("a seed");
    let head = bytes.windows(8).position(|at| at == b"OpusHead").expect("a header");
    // −6 dB in steps of 1/256 dB.
    bytes[head + 16..head + 18].copy_from_slice(&(-6i16 * 256).to_le_bytes());
    let turned_down = read(&folder.file("file", &bytes), None);
    let factor = 10f64.powf(-6.0 / 20.0);
    for (quiet, loud) in turned_down.channels[0].iter().zip(&plain.channels[0]) {
        assert!((quiet - loud * factor).abs() < 1e-6, "{quiet} and {loud}");
    }
}

#[test]
#[ignore = "needs ffmpeg and sox"]
fn opus_is_decoded_as_by_the_reference_decoder() {
    let folder = Folder::new("formats-opus");
    let float = ["-c:a", "libopus", "-request_sample_fmt", "flt"];
    for (name, channels, options) in [
        ("music.opus", 2, &["-b:a", "128k"][..]),
        ("music.webm", 2, &["-b:a", "96k"]),
        ("music.mkv", 1, &["-b:a", "64k"]),
        ("music.mp4", 2, &["-b:a", "128k"]),
        ("speech.opus", 1, &["-b:a", "16k", "-application", "voip"]),
        ("hybrid.opus", 2, &["-b:a", "48k", "-application", "voip"]),
        ("short.opus", 2, &["-b:a", "128k", "-frame_duration", "2.5"]),
        ("long.opus", 2, &["-b:a", "64k", "-frame_duration", "60"]),
        ("six.opus", 6, &["-b:a", "256k"]),
        ("six.webm", 6, &["-b:a", "256k"]),
    ] {
        let signal = Signal::new(Words::S16, channels, FRAMES);
        let options = [&["-af", "volume=0.2", "-c:a", "libopus"], options].concat();
        let path = by_ffmpeg(&folder, name, Words::S16, &signal, &options);
        let sound = read(&path, None);
        let other = decoded_with(&folder, &path, channels, &float);
        let worst = worst_difference(&sound, &other);
        println!("{name}: {} frames, {:.1} dB", sound.channels[0].len(), 20.0 * worst.log10());
        assert!(worst < MOST_DIFFERENCE, "{name}: {worst}");
        // From MP4 the other program hands out the padding, too, that the edit list leaves out.
        let length = if name.ends_with("mp4") { FRAMES } else { other[0].len() };
        assert_eq!(sound.channels[0].len(), length, "{name}: {}", text(&path));
        assert_eq!(sound.warnings, Vec::<String>::new(), "{name}");
        if channels == 6 {
            let roles = [Left, Right, Center, LowFrequency, Surround, Surround];
            assert_eq!(sound.info.roles, roles, "{name}");
        }
    }
}

fn worst_difference(sound: &Sound, other: &[Vec<f32>]) -> f64 {
    let pairs = sound.channels.iter().zip(other).flat_map(|(ours, other)| ours.iter().zip(other));
    pairs.map(|(ours, other)| (ours - f64::from(*other)).abs()).fold(1e-12, f64::max)
}
