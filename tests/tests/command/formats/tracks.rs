//! Films, second tracks, names that lie, and pipes.

use std::process::Command;

use ledgerline_cli::audio::{AudioFile, Input};

use super::tools::{RATE_HZ, by_ffmpeg, run, text};
use super::words::{Signal, Words};
use super::{all, read, refused};
use ledgerline_tests::folder::Folder;

const FRAMES: usize = 30_003;

/// A film with pictures and two tracks of sound: stereo, and mono at another rate.
fn film(folder: &Folder, name: &str, codec: &[&str]) -> (std::path::PathBuf, Signal) {
    let signal = Signal::new(Words::S24, 2, FRAMES);
    let raw = text(&folder.file("film.raw", &signal.raw));
    let path = folder.join(name);
    let (rate, target) = (RATE_HZ.to_string(), text(&path));
    let mut arguments = vec!["-v", "error", "-y", "-f", "lavfi", "-i", "testsrc=d=1:s=64x64:r=25"];
    arguments.extend(["-f", "s24le", "-ar", &rate, "-ac", "2", "-i", &raw]);
    arguments.extend(["-f", "lavfi", "-i", "sine=d=0.5:r=44100"]);
    arguments.extend(["-map", "0", "-map", "1", "-map", "2", "-c:v", "mpeg4"]);
    arguments.extend(codec);
    arguments.extend(["-metadata:s:a:1", "language=deu", &target]);
    run("ffmpeg", &arguments);
    (path, signal)
}

#[test]
#[ignore = "needs ffmpeg and sox"]
fn the_sound_of_a_film_is_found_by_itself_and_another_track_by_its_number() {
    let folder = Folder::new("formats-film");
    for (name, codec) in [("film.mov", ["-c:a", "pcm_s24le"]), ("film.mkv", ["-c:a", "flac"])] {
        let (path, signal) = film(&folder, name, &codec);
        let sound = read(&path, None);
        assert_eq!(sound.channels, signal.channels, "{name}");
        assert_eq!((sound.info.track, sound.info.tracks.len()), (1, 2), "{name}");
        let second = read(&path, Some(2));
        assert_eq!((second.info.channels, second.info.sample_rate_hz), (1, 44_100), "{name}");
        assert_eq!(second.channels[0].len(), 22_050, "{name}");
    }
    let (path, _) = film(&folder, "film.mp4", &["-c:a", "aac", "-b:a", "192k"]);
    let first = read(&path, None);
    assert_eq!((first.info.format.as_str(), first.channels[0].len()), ("MP4", FRAMES));
    assert_eq!(read(&path, Some(2)).channels[0].len(), 22_050);
    let error = refused(&path, Some(3));
    for part in [
        "has no audio track 3",
        "track 1: AAC-LC, 2 channels, 48 kHz",
        "track 2: AAC-LC, 1 channel, 44.1 kHz, deu",
    ] {
        assert!(error.contains(part), "{error}");
    }
}

#[test]
#[ignore = "needs ffmpeg and sox"]
fn a_film_without_sound_says_so() {
    let folder = Folder::new("formats-mute");
    let path = folder.join("mute.mp4");
    let picture =
        ["-v", "error", "-y", "-f", "lavfi", "-i", "testsrc=d=1:s=64x64", "-c:v", "mpeg4"];
    let mut arguments = picture.to_vec();
    let target = text(&path);
    arguments.push(&target);
    run("ffmpeg", &arguments);
    assert!(refused(&path, None).contains("without an audio track"));
}

#[test]
#[ignore = "needs ffmpeg and sox"]
fn the_content_decides_and_not_the_name() {
    let folder = Folder::new("formats-names");
    let signal = Signal::new(Words::S16, 2, FRAMES);
    let made = by_ffmpeg(&folder, "true.flac", Words::S16, &signal, &["-c:a", "flac"]);
    for name in ["song.wav", "song.mp3", "song.mp4", "song"] {
        let path = folder.join(name);
        std::fs::copy(&made, &path).expect("a copy");
        let sound = read(&path, None);
        assert_eq!((sound.info.format.as_str(), &sound.channels), ("FLAC", &signal.channels));
    }
}

#[test]
#[cfg(unix)]
#[ignore = "needs ffmpeg and sox"]
fn a_pipe_gives_what_the_file_gives() {
    let folder = Folder::new("formats-pipe");
    let signal = Signal::new(Words::S16, 2, FRAMES);
    for (name, options) in [
        ("p.wav", &["-c:a", "pcm_s16le"][..]),
        ("p.flac", &["-c:a", "flac"]),
        ("p.mp3", &["-c:a", "libmp3lame"]),
        ("p.ogg", &["-c:a", "libvorbis"]),
        ("p.aac", &["-c:a", "aac"]),
        ("p.m4a", &["-c:a", "aac"]),
        ("p.mkv", &["-c:a", "flac"]),
        ("p.aiff", &["-c:a", "pcm_s16be"]),
        ("p.caf", &["-c:a", "alac"]),
        ("adpcm.wav", &["-c:a", "adpcm_ms"]),
    ] {
        let path = by_ffmpeg(&folder, name, Words::S16, &signal, options);
        let whole = read(&path, None);
        let pipe = folder.join(&format!("{name}.pipe"));
        run("mkfifo", &[&text(&pipe)]);
        let mut writer = Command::new("cp")
            .args([text(&path), text(&pipe)])
            .spawn()
            .expect("a program that writes into the pipe");
        let mut file = AudioFile::open(&Input::Path(pipe), None).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(all(&mut file), whole.channels, "{name}");
        assert_eq!(file.warnings(), whole.warnings, "{name}");
        assert!(writer.wait().expect("its end").success());
    }
}
