//! What `signal` takes.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use ledgerline_measure::sum_test::{HIGHEST_LEVEL_DBFS, NoiseKind, USUAL_LEVEL_DBFS};

/// Options of `signal`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  ledgerline signal sum-test
  ledgerline signal sum-test --rate 96000 --bits 32
  ledgerline signal slow-test --pace 15
  ledgerline signal check --short
  ledgerline signal demonstration --loop --each 10 --noise pink
  ledgerline signal noises --pairs --noise gaussian

This is loud noise, the test's with a tone too high to hear: turn loudspeakers and headphones down \
first.")]
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
    /// The short form of the test: three steps in 25 s, which tell whether a mixer adds.
    #[arg(long)]
    pub short: bool,
    /// A new step of the test every so many seconds, at most 60, for whoever reads a meter by eye.
    #[arg(long, value_name = "SECONDS")]
    pub pace: Option<f64>,
    /// Instead of the test a loop for a demonstration: the same noise on both feeds, independent
    /// noises, one late, one inverted, over and over.
    #[arg(long = "loop")]
    pub repeats: bool,
    /// How long each pair of the loop plays, 2 to 120 s; 6 s unless set.
    #[arg(long, value_name = "SECONDS")]
    pub each: Option<f64>,
    /// Instead of the test two independent noises, for a test of your own.
    #[arg(long)]
    pub pairs: bool,
    /// The noise of the loop or the pairs; uniform unless set.
    #[arg(long, value_name = "KIND")]
    pub noise: Option<NoiseOption>,
    /// Length of the loop's or the pairs' files, at most 10 minutes, for players that cannot repeat a
    /// file: whole rounds of the loop, one unless set; of the pairs one minute unless set.
    #[arg(long, value_name = "MINUTES")]
    pub minutes: Option<f64>,
}

/// A noise as it is typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum NoiseOption {
    /// White, every value as likely as another: flat-topped.
    Uniform,
    /// White, normally distributed.
    Gaussian,
    /// 3 dB down an octave.
    Pink,
}

impl From<NoiseOption> for NoiseKind {
    fn from(option: NoiseOption) -> Self {
        match option {
            NoiseOption::Uniform => Self::Uniform,
            NoiseOption::Gaussian => Self::Gaussian,
            NoiseOption::Pink => Self::Pink,
        }
    }
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
