//! The two programs that make files.

use std::path::{Path, PathBuf};
use std::process::Command;

use super::words::{Signal, Words};
use ledgerline_tests::folder::Folder;

pub const RATE_HZ: u32 = 48_000;

/// Runs a program; what it prints is shown if it fails.
pub fn run(program: &str, arguments: &[&str]) {
    let output = Command::new(program)
        .args(arguments)
        .output()
        .unwrap_or_else(|error| panic!("{program}: {error}"));
    let printed = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{program} {arguments:?}: {printed}");
}

/// A file that `ffmpeg` makes of a signal.
pub fn by_ffmpeg(
    folder: &Folder,
    name: &str,
    words: Words,
    signal: &Signal,
    options: &[&str],
) -> PathBuf {
    let raw = folder.file(&format!("{name}.raw"), &signal.raw);
    let path = folder.join(name);
    let (rate, count) = (RATE_HZ.to_string(), signal.channels.len().to_string());
    let (raw, target) = (text(&raw), text(&path));
    let mut arguments = vec!["-v", "error", "-y", "-f", words.raw_name(), "-ar", &rate];
    arguments.extend(["-ac", &count, "-i", &raw]);
    arguments.extend(options);
    arguments.push(&target);
    run("ffmpeg", &arguments);
    path
}

/// What `ffmpeg` decodes from a file, a vector a channel.
pub fn decoded_by_ffmpeg(folder: &Folder, path: &Path, channels: usize) -> Vec<Vec<f32>> {
    decoded_with(folder, path, channels, &[])
}

/// The same by a certain decoder of it.
pub fn decoded_with(
    folder: &Folder,
    path: &Path,
    channels: usize,
    options: &[&str],
) -> Vec<Vec<f32>> {
    let raw = text(&folder.join("decoded"));
    let input = text(path);
    let start = [&["-v", "error", "-y"], options, &["-i", &input]].concat();
    run("ffmpeg", &[&start[..], &["-map", "0:a:0", "-f", "f32le", &raw]].concat());
    let bytes = std::fs::read(raw).expect("what ffmpeg wrote");
    let (words, _) = bytes.as_chunks::<4>();
    let samples: Vec<f32> = words.iter().map(|word| f32::from_le_bytes(*word)).collect();
    (0..channels)
        .map(|channel| samples.iter().skip(channel).step_by(channels).copied().collect())
        .collect()
}

pub fn text(path: &Path) -> String {
    path.display().to_string()
}
