//! ffmpeg and sox. Both run at a low priority: a bench is no hurry.

use std::ffi::OsStr;
use std::io::{Error, Result};
use std::path::Path;
use std::process::Command;

/// Runs ffmpeg from one file to another.
///
/// # Errors
///
/// With what it printed, when it fails.
pub fn ffmpeg(from: &Path, options: &[&str], to: &Path) -> Result<()> {
    let mut command = polite("ffmpeg");
    command.args(["-v", "error", "-y", "-i"]).arg(from).args(options).arg(to);
    finish(&mut command).map(|_| ())
}

/// Runs sox from one file to another, never with a dither that nobody asked for.
///
/// # Errors
///
/// With what it printed, when it fails.
pub fn sox(from: &Path, format: &[&str], to: &Path, effects: &[&str]) -> Result<()> {
    let mut command = polite("sox");
    command.args(["-D", "-V1"]).arg(from).args(format).arg(to).args(effects);
    finish(&mut command).map(|_| ())
}

/// Samples of a stretch of a file, channels in turn, at a rate of 48 kHz, by ffmpeg.
///
/// # Errors
///
/// With what ffmpeg printed, when it fails.
pub fn decode(file: &Path, from_s: f64, length_s: f64, channels: usize) -> Result<Vec<f64>> {
    let mut command = polite("ffmpeg");
    command
        .args(["-v", "error", "-ss", &from_s.to_string(), "-t", &length_s.to_string(), "-i"])
        .arg(file)
        .args(["-ac", &channels.to_string(), "-ar", "48000", "-f", "f64le", "-"]);
    let bytes = finish(&mut command)?;
    let samples = bytes.as_chunks::<8>().0.iter().map(|bytes| f64::from_le_bytes(*bytes));
    Ok(samples.collect())
}

/// A command of another program, at a low priority.
#[must_use]
pub fn polite(program: impl AsRef<OsStr>) -> Command {
    let mut command = Command::new("nice");
    command.arg(program);
    command
}

/// Runs a command to its end, and returns what it printed.
///
/// # Errors
///
/// With what it complained of, when it fails.
pub fn finish(command: &mut Command) -> Result<Vec<u8>> {
    let output = command.output()?;
    if output.status.success() {
        return Ok(output.stdout);
    }
    let complaint = String::from_utf8_lossy(&output.stderr).into_owned();
    Err(Error::other(format!("{command:?}: {complaint}")))
}
