//! Files of every kind, read as the command reads them.
//!
//! Files that other programs must make stand behind `#[ignore]`: `cargo xtask test` runs them where
//! `ffmpeg` and `sox` are installed.

mod bad_input;
mod by_ffmpeg;
mod gaps;
mod lossless;
mod lossy;
mod opus;
mod tools;
mod tracks;
mod wave;
mod wave_kin;
mod words;

use std::path::Path;

use ledgerline_cli::audio::{AudioFile, Choice, FileInfo, Input};

/// All samples of a file, a vector a channel, and what was told about it.
struct Sound {
    info: FileInfo,
    channels: Vec<Vec<f64>>,
    warnings: Vec<String>,
}

/// Reads a file twice, with a rewind between, in both precisions; and compares.
fn read(path: &Path, track: Option<u32>) -> Sound {
    let mut file = AudioFile::open(&Input::Path(path.to_owned()), track)
        .unwrap_or_else(|error| panic!("{error}"));
    let channels = all(&mut file);
    let warnings = file.warnings().to_vec();
    file.rewind().unwrap_or_else(|error| panic!("{error}"));
    let mut single = vec![Vec::new(); file.info().channels];
    let mut block = Vec::new();
    while file.read_f32(&mut block).unwrap_or_else(|error| panic!("{error}")) {
        for (all, next) in single.iter_mut().zip(&block) {
            all.extend_from_slice(next);
        }
    }
    for (double, single) in channels.iter().zip(&single) {
        assert!(double.iter().map(|x| *x as f32).eq(single.iter().copied()), "{}", path.display());
    }
    assert_eq!(file.warnings(), warnings);
    Sound { info: file.info().clone(), channels, warnings }
}

fn all(file: &mut AudioFile) -> Vec<Vec<f64>> {
    let mut channels = vec![Vec::new(); file.info().channels];
    let mut block = Vec::new();
    while file.read_f64(&mut block).unwrap_or_else(|error| panic!("{error}")) {
        for (all, next) in channels.iter_mut().zip(&block) {
            all.extend_from_slice(next);
        }
    }
    channels
}

/// The error that opening such a file gives, as the user reads it.
fn refused(path: &Path, choice: impl Into<Choice>) -> String {
    match AudioFile::open(&Input::Path(path.to_owned()), choice) {
        Ok(file) => panic!("it was opened: {:?}", file.info()),
        Err(error) => error.to_string(),
    }
}
