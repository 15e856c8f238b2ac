//! What `read` takes.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use ledgerline_measure::verdict::Severity;

use super::measuring::MeasuringOptions;
use super::report::ReportOptions;
use crate::audio::Choice;

/// Options of `read`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  ledgerline read mix.wav
  ledgerline read --target -16LUFS --ceiling -2 --report mix.html mix.wav
  ledgerline read --json stems/*.flac > stems.jsonl
  ledgerline read --report stems.html stems/
  ledgerline read --entries switching.wav
  ledgerline read --fail-on caution film.mov && echo fine
  some-program | ledgerline read -
  ledgerline read --report session.html log/*.jsonl

Exit status: 0 fine, 1 a finding at or above --fail-on, 2 a file could not be read.")]
pub struct ReadOptions {
    /// Files to measure, of any kind that holds audio, folders of such files, or logs of the plugin to
    /// sum up; - is standard input.
    #[arg(value_name = "FILE", required = true)]
    pub files: Vec<PathBuf>,
    /// Which audio track of a file with several, as numbered in its list of tracks.
    #[arg(long, value_name = "NUMBER")]
    pub track: Option<u32>,
    /// Do not ask the machine's own ffmpeg for what is not decoded here.
    #[arg(long)]
    pub own_decoders_only: bool,
    /// Measure these channels alone, numbered from 1: 3 or 1,2.
    #[arg(long, value_name = "LIST", value_delimiter = ',', value_parser = clap::value_parser!(u16).range(1..))]
    pub channels: Vec<u16>,
    /// How the measuring is done.
    #[command(flatten)]
    pub measuring: MeasuringOptions,
    /// Print one JSON record a line, a line a file, instead of tables.
    #[arg(long, help_heading = "Output")]
    pub json: bool,
    /// Print the whole ledger of every file, also where there are several; logs are printed whole
    /// anyway.
    #[arg(long, help_heading = "Output", conflicts_with = "json")]
    pub full: bool,
    /// Tell the entries: where the level steps, and what happened there.
    #[arg(long, help_heading = "Output")]
    pub entries: bool,
    /// Begin an entry at each of these moments, in seconds: 12,47.5. Tells the entries.
    #[arg(long, help_heading = "Output", value_name = "SECONDS", value_delimiter = ',', value_parser = moment)]
    pub mark: Vec<f64>,
    /// Write the levels over time, ten rows a second, as comma-separated values.
    #[arg(long, help_heading = "Output", value_name = "FILE.csv")]
    pub history: Option<PathBuf>,
    /// The page.
    #[command(flatten, next_help_heading = "Output")]
    pub report: ReportOptions,
    /// The least finding that makes the exit status 1.
    #[arg(long, help_heading = "Output", value_enum, value_name = "SEVERITY", default_value_t)]
    pub fail_on: FailOn,
}

/// The least finding that makes a run fail.
#[derive(Debug, Clone, Copy, Default, ValueEnum)]
pub enum FailOn {
    /// Anything worth a note.
    Note,
    /// A meter that misleads, or a mix about to go wrong.
    Caution,
    /// Something is broken: it clips, cancels, or is no audio.
    #[default]
    Fault,
    /// Nothing that is found.
    Never,
}

impl ReadOptions {
    /// Which track is read, and who may decode it.
    #[must_use]
    pub fn choice(&self) -> Choice {
        Choice { track: self.track, own_decoders_only: self.own_decoders_only }
    }

    /// Whether the entries are to be told.
    #[must_use]
    pub fn tells_entries(&self) -> bool {
        self.entries || !self.mark.is_empty()
    }
}

impl FailOn {
    /// Whether a finding of this severity makes the run fail.
    #[must_use]
    pub fn fails(self, severity: Severity) -> bool {
        match self {
            Self::Note => severity >= Severity::Note,
            Self::Caution => severity >= Severity::Caution,
            Self::Fault => severity >= Severity::Fault,
            Self::Never => false,
        }
    }
}

/// A moment in a file, in seconds.
fn moment(text: &str) -> Result<f64, String> {
    let seconds: f64 = text.parse().map_err(|_| format!("{text} is no number of seconds"))?;
    if seconds.is_finite() && seconds >= 0.0 {
        Ok(seconds)
    } else {
        Err(format!("{text} lies outside every file"))
    }
}
