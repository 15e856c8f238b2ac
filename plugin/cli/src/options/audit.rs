//! What `audit` takes.

use std::path::PathBuf;

use clap::Args;
use ledgerline_measure::sum_test::{DelayLimit, Limits, ShownReading, USUAL_LEVEL_DBFS};

use super::report::ReportOptions;
use super::shown::reading;
use super::signal::level;

/// Options of `audit`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  ledgerline audit recording.wav
  ledgerline audit recording.wav --shown 1=-24 2=-24 3=-18 5=-21 --resolution 1
  ledgerline audit desk.wav --limits analogue
  ledgerline audit desk.wav session.wav --report mixers.html
  ledgerline audit --table desk.wav session.wav

A recording may hold either form of the test, at any pace, or a part of it.

Exit status: 0 sums correctly and within the limits, 1 faulty or outside a limit, 2 cannot tell.")]
pub struct AuditOptions {
    /// Recordings, one test each: mono or stereo files of any kind that keeps all sound. Of several,
    /// every other one is held against the first.
    #[arg(value_name = "RECORDING")]
    pub recordings: Vec<PathBuf>,
    /// What the mixer's own meter showed: step=dB, by a step's number or name.
    #[arg(long, value_name = "STEP=DB", num_args = 1.., value_delimiter = ',', value_parser = shown)]
    pub shown: Vec<Shown>,
    /// How finely the meter was read, in dB. Without it, 1 for whole numbers, else 0.1.
    #[arg(long, value_name = "DB", allow_negative_numbers = true)]
    pub resolution: Option<f64>,
    /// Level at which the feeds were made, in dBFS of the peak; gains are told against it.
    #[arg(long, value_name = "DBFS", default_value_t = USUAL_LEVEL_DBFS, value_parser = level,
        allow_negative_numbers = true)]
    pub level: f64,
    /// How far the channels may differ: digital (0.05 dB, 0.1 samples), analogue (1 dB, 100us), or
    /// values of your own, as 0.5dB,50us or 0.2dB,3samples; what you leave out is digital.
    #[arg(long, value_name = "LIMITS", default_value = "digital", value_parser = limits,
        allow_hyphen_values = true)]
    pub limits: Limits,
    /// Do not ask the machine's own ffmpeg for what is not decoded here.
    #[arg(long)]
    pub own_decoders_only: bool,
    /// Print the record as JSON: an object, or an array if there are several recordings.
    #[arg(long)]
    pub json: bool,
    /// The page.
    #[command(flatten)]
    pub report: ReportOptions,
    /// Lay several mixers side by side.
    #[arg(long)]
    pub table: bool,
}

fn limits(word: &str) -> Result<Limits, String> {
    match word {
        "digital" => return Ok(Limits::DIGITAL),
        "analogue" => return Ok(Limits::ANALOGUE),
        _ => {}
    }
    let mut limits = Limits { name: "own", ..Limits::DIGITAL };
    for part in word.split(',').map(str::trim) {
        if part.starts_with(['-', '−']) {
            return Err(format!(
                "'{part}' is below 0: a limit holds either way, so leave the sign out"
            ));
        }
        let digits = part.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(part.len());
        let (number, unit) = part.split_at(digits);
        let number: f64 = number.parse().map_err(|_| {
            format!("'{part}' is no limit: write digital, analogue, or values as 0.5dB,50us")
        })?;
        match unit.trim() {
            "dB" => limits.level_db = number,
            "us" | "µs" => limits.delay = DelayLimit::Seconds(1e-6 * number),
            "ms" => limits.delay = DelayLimit::Seconds(1e-3 * number),
            "sample" | "samples" => limits.delay = DelayLimit::Samples(number),
            _ => return Err(format!("'{part}' has no unit that is known: dB, us, ms or samples")),
        }
    }
    Ok(limits)
}

/// A word behind `--shown`: a reading, or a recording that came after the readings.
#[derive(Debug, Clone)]
pub enum Shown {
    /// A reading.
    Reading(ShownReading),
    /// A file.
    Recording(PathBuf),
}

fn shown(word: &str) -> Result<Shown, String> {
    if word.contains('=') {
        return reading(word).map(Shown::Reading);
    }
    Ok(Shown::Recording(PathBuf::from(word)))
}
