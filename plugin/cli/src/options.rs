//! What can be typed. Each option is defined here once; help follows from it.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand};
use ledgerline_measure::sum_test::{HIGHEST_LEVEL_DBFS, ShownReading, USUAL_LEVEL_DBFS};

/// Keeps the books of a bus: proves how a mixer adds, and tells what its meters read.
///
/// Exit status: 0 fine, 1 faulty, 2 it could not be done.
#[derive(Debug, Parser)]
#[command(name = "ledgerline", version)]
pub struct Command {
    /// What to do.
    #[command(subcommand)]
    pub task: Task,
}

/// The tasks.
#[derive(Debug, Subcommand)]
pub enum Task {
    /// Write the sum test's feeds and a card that says what to do with them.
    Signal(SignalOptions),
    /// Judge recordings of a mixer that played the sum test.
    Audit(AuditOptions),
}

/// Options of `signal`.
#[derive(Debug, Args)]
pub struct SignalOptions {
    /// Folder for the files; made if it is not there.
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
    /// Sample rate in Hz: that of the mixer.
    #[arg(long, value_name = "HZ", default_value_t = 48_000)]
    pub rate: u32,
    /// Level of the feeds in dBFS of the peak, at most -6.
    #[arg(long, value_name = "DBFS", default_value_t = USUAL_LEVEL_DBFS, value_parser = level,
        allow_negative_numbers = true)]
    pub level: f64,
    /// Bits a sample: 16, 24, or 32 for floating point.
    #[arg(long, value_name = "BITS", default_value_t = 24, value_parser = bits)]
    pub bits: u16,
}

/// Options of `audit`.
#[derive(Debug, Args)]
pub struct AuditOptions {
    /// WAV files, one test each: mono, or stereo.
    #[arg(value_name = "RECORDING")]
    pub recordings: Vec<PathBuf>,
    /// What the mixer's own meter showed: step=dB, as often as there are readings.
    #[arg(long, value_name = "STEP=DB", num_args = 1.., value_delimiter = ',', value_parser = shown)]
    pub shown: Vec<Shown>,
    /// How finely the meter was read, in dB. Without it, 1 for whole numbers, else 0.1.
    #[arg(long, value_name = "DB")]
    pub resolution: Option<f64>,
    /// Level at which the feeds were made, in dBFS of the peak; gains are told against it.
    #[arg(long, value_name = "DBFS", default_value_t = USUAL_LEVEL_DBFS, value_parser = level,
        allow_negative_numbers = true)]
    pub level: f64,
    /// Print the record as JSON: an object, or an array if there are several recordings.
    #[arg(long)]
    pub json: bool,
    /// Write a report that any browser shows.
    #[arg(long, value_name = "FILE.html")]
    pub report: Option<PathBuf>,
    /// Lay several mixers side by side.
    #[arg(long)]
    pub table: bool,
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
    let Some((step, db)) = word.split_once('=') else {
        return Ok(Shown::Recording(PathBuf::from(word)));
    };
    let step = step
        .trim()
        .parse()
        .map_err(|_| format!("'{step}' is not the number of a step: write 3=-17.5"))?;
    // A true minus sign, as typesetting has it, is meant like a hyphen.
    let db = db.trim().replace('\u{2212}', "-");
    let shown_db =
        db.parse().map_err(|_| format!("'{db}' is not a number of decibels: write 3=-17.5"))?;
    Ok(Shown::Reading(ShownReading { step, shown_db }))
}

fn level(word: &str) -> Result<f64, String> {
    match word.parse::<f64>() {
        Ok(level) if (-60.0..=HIGHEST_LEVEL_DBFS).contains(&level) => Ok(level),
        Ok(level) => Err(format!(
            "{level} dBFS: the feeds play between -60 and {HIGHEST_LEVEL_DBFS} dBFS, since this is \
             noise into loudspeakers"
        )),
        Err(_) => Err(format!("'{word}' is not a number of decibels")),
    }
}

fn bits(word: &str) -> Result<u16, String> {
    match word {
        "16" => Ok(16),
        "24" => Ok(24),
        "32" => Ok(32),
        _ => Err("16, 24 or 32 bits (32 is floating point)".to_owned()),
    }
}
