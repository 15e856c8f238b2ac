//! What `signal` takes.

use std::path::PathBuf;

use clap::Args;
use ledgerline_measure::sum_test::{HIGHEST_LEVEL_DBFS, USUAL_LEVEL_DBFS};

/// Options of `signal`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  ledgerline signal sum-test
  ledgerline signal sum-test --rate 96000 --bits 32

This is loud noise with a tone too high to hear: turn loudspeakers and headphones down first.")]
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

/// The level of the feeds.
pub(super) fn level(word: &str) -> Result<f64, String> {
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
