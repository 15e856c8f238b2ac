//! Lossy formats: as long as the source, not late, and what another decoder gives.

use ledgerline_cli::audio::Choice;

use super::read;
use super::tools::{by_ffmpeg, decoded_by_ffmpeg};
use super::words::{Signal, Words};
use ledgerline_tests::folder::Folder;

const FRAMES: usize = 48_777;

/// Decoders of one codec differ by the rounding of their transforms: 3.3e-5 of full scale was seen.
const MOST_DIFFERENCE: f64 = 1e-4;

struct Case {
    name: &'static str,
    options: &'static [&'static str],
    format: &'static str,
    codec: &'static str,
    /// Frames that the sound is late: what the container does not state cannot be taken out.
    late: usize,
    /// It is as long as the source: the container says where the padding starts.
    exact: bool,
}

const fn case(
    name: &'static str,
    options: &'static [&'static str],
    format: &'static str,
    codec: &'static str,
) -> Case {
    Case { name, options, format, codec, late: 0, exact: true }
}

const CASES: [Case; 9] = [
    case("a.m4a", &["-c:a", "aac", "-b:a", "192k"], "M4A", "AAC-LC"),
    case("a.mp4", &["-c:a", "aac", "-b:a", "192k"], "MP4", "AAC-LC"),
    case("a.mov", &["-c:a", "aac", "-b:a", "192k"], "MOV", "AAC-LC"),
    case("v.ogg", &["-c:a", "libvorbis", "-q:a", "6"], "Ogg", "Vorbis"),
    Case { exact: false, ..case("v.webm", &["-c:a", "libvorbis"], "WebM", "Vorbis") },
    Case { exact: false, ..case("m.mp3", &["-c:a", "libmp3lame", "-b:a", "192k"], "MP3", "MP3") },
    Case { late: 1024, exact: false, ..case("a.aac", &["-c:a", "aac"], "ADTS", "AAC-LC") },
    Case { late: 1024, exact: false, ..case("a.mkv", &["-c:a", "aac"], "Matroska", "AAC-LC") },
    Case {
        late: 1105,
        exact: false,
        ..case("x.mp3", &["-c:a", "libmp3lame", "-write_xing", "0"], "MP3", "MP3")
    },
];

#[test]
#[ignore = "needs ffmpeg and sox"]
fn encoder_delay_and_padding_are_taken_out_where_the_file_states_them() {
    let folder = Folder::new("formats-lossy");
    let signal = quiet();
    for case in CASES {
        let name = case.name;
        let path = by_ffmpeg(&folder, name, Words::F32, &signal, case.options);
        let sound = read(&path, None);
        assert_eq!(sound.warnings, Vec::<String>::new(), "{name}");
        assert_eq!(sound.info.format, case.format, "{name}");
        assert_eq!(sound.info.codec, case.codec, "{name}");
        assert!(sound.info.lossy && sound.info.bits.is_none(), "{name}");
        let length = sound.channels[0].len();
        assert_eq!(lag(&sound.channels[0], &signal.channels[0]), case.late, "{name}: late");
        let other = decoded_by_ffmpeg(&folder, &path, 2);
        if case.exact {
            // The other decoder hands the padding out that the container marks as such.
            assert_eq!(length, FRAMES, "{name}: length");
        } else {
            assert_eq!(length, other[0].len(), "{name}: length");
        }
        for (channel, (ours, other)) in sound.channels.iter().zip(&other).enumerate() {
            let difference = ours
                .iter()
                .zip(other)
                .map(|(ours, other)| (ours - f64::from(*other)).abs())
                .fold(0.0, f64::max);
            assert!(difference < MOST_DIFFERENCE, "{name}: channel {channel}: {difference}");
        }
    }
}

#[test]
#[ignore = "needs ffmpeg and sox"]
fn codecs_that_are_not_decoded_are_named_with_what_to_do() {
    let folder = Folder::new("formats-undecoded");
    let signal = quiet();
    for (name, codec, told) in
        [("c.mp4", "ac3", "AC-3"), ("e.mp4", "eac3", "E-AC-3"), ("c.mkv", "ac3", "AC-3")]
    {
        let path = by_ffmpeg(&folder, name, Words::F32, &signal, &["-c:a", codec]);
        let choice = Choice { track: None, own_decoders_only: true };
        let error = super::refused(&path, choice);
        assert!(error.contains("Without --own-decoders-only the machine's own ffmpeg"), "{error}");
        assert!(error.contains(name) && error.contains(&format!("coded as {told},")), "{error}");
        assert!(error.contains("Convert the track to WAV or FLAC first"), "{error}");
    }
}

/// Noise well below full scale, so that no coder clips.
fn quiet() -> Signal {
    let mut signal = Signal::new(Words::F32, 2, FRAMES);
    signal.raw.clear();
    for frame in 0..FRAMES {
        for channel in &mut signal.channels {
            let (number, word) = Words::F32.quantised(channel[frame] / 6.0);
            channel[frame] = number;
            signal.raw.extend(word);
        }
    }
    signal
}

/// By how many frames `late` comes after `early`, from 0 to 2999: where they resemble each other
/// most.
fn lag(late: &[f64], early: &[f64]) -> usize {
    const WINDOW: usize = 8192;
    let likeness = |lag: usize| -> f64 {
        late[lag..lag + WINDOW].iter().zip(early).map(|(late, early)| late * early).sum()
    };
    (0..3000).max_by(|one, next| likeness(*one).total_cmp(&likeness(*next))).expect("lags")
}
