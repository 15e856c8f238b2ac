//! What `compare` takes.

use std::path::PathBuf;

use clap::Args;
use ledgerline_measure::Edges;
use ledgerline_measure::compare::{CompareSettings, Tolerances};

use super::measuring::band;
use super::report::ReportOptions;

/// Options of `compare`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  ledgerline compare mix.wav export.mov
  ledgerline compare --report what-happened.html mix.wav export.mp4
  ledgerline compare --residual -30 --band-limit 15k mix.wav lossy.m4a && echo fine
  ledgerline compare --gain any --loudness any mix.wav normalised.wav
  ledgerline compare --json mix.wav export.flac | jq .verdict

A tolerance of 'any' allows anything.

Exit status: 0 within the tolerances, 1 outside of them, 2 the two could not be compared.")]
pub struct CompareOptions {
    /// The mix, as it left the desk or the session.
    #[arg(value_name = "MIX")]
    pub mix: PathBuf,
    /// The export, as the audience gets it: a sound or video file of any kind.
    #[arg(value_name = "EXPORT")]
    pub export: PathBuf,
    /// Which audio track of the mix, if it has several.
    #[arg(long, value_name = "NUMBER")]
    pub track: Option<u32>,
    /// Which audio track of the export, if it has several.
    #[arg(long, value_name = "NUMBER")]
    pub export_track: Option<u32>,
    /// Edges of the audible band in Hz: 20-20000, or 20-16k.
    #[arg(long, value_name = "LOW-HIGH", default_value = "20-20000", value_parser = band)]
    pub band: Edges,
    /// What the export is allowed to do.
    #[command(flatten)]
    pub tolerances: ToleranceOptions,
    /// Print one JSON record instead of text.
    #[arg(long, help_heading = "Output")]
    pub json: bool,
    /// The page.
    #[command(flatten, next_help_heading = "Output")]
    pub report: ReportOptions,
}

/// What the export is allowed to do.
#[derive(Debug, Clone, Args)]
#[command(next_help_heading = "Tolerances")]
pub struct ToleranceOptions {
    /// Gain either way, in dB.
    #[arg(long, value_name = "DB", default_value = "0.1", value_parser = most)]
    pub gain: Limit,
    /// What may be left in the audible band once delay, gain and channels are taken out, in dBFS.
    #[arg(long, value_name = "DBFS", default_value = "-60", value_parser = any,
        allow_hyphen_values = true)]
    pub residual: Limit,
    /// Change in integrated loudness either way, in LU.
    #[arg(long, value_name = "LU", default_value = "0.2", value_parser = most)]
    pub loudness: Limit,
    /// Rise in true peak, in dB.
    #[arg(long, value_name = "DB", default_value = "0.5", value_parser = most)]
    pub true_peak: Limit,
    /// Lowest frequency at which the export's spectrum may end, in Hz: 16000, or 16k.
    #[arg(long, value_name = "HZ", default_value = "16k", value_parser = frequency)]
    pub band_limit: Limit,
    /// Delay either way, in milliseconds.
    #[arg(long, value_name = "MS", default_value = "any", value_parser = most)]
    pub delay: Limit,
    /// Difference of the clocks either way, in parts per million.
    #[arg(long, value_name = "PPM", default_value = "1", value_parser = most)]
    pub drift: Limit,
    /// Overs and flat tops that may be added.
    #[arg(long, value_name = "COUNT", default_value = "0", value_parser = count)]
    pub overs: Limit,
    /// Dropouts and other wrong spots.
    #[arg(long, value_name = "COUNT", default_value = "0", value_parser = count)]
    pub spots: Limit,
    /// Let polarity be turned.
    #[arg(long)]
    pub any_polarity: bool,
    /// Let channels be swapped, folded or dropped.
    #[arg(long)]
    pub any_channels: bool,
    /// Let pieces be missing, added or replaced.
    #[arg(long)]
    pub any_edits: bool,
}

/// A tolerance; none allows anything.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limit(Option<f64>);

impl CompareOptions {
    /// How the files are to be compared.
    #[must_use]
    pub fn settings(&self) -> CompareSettings {
        let limits = &self.tolerances;
        let whole = |limit: Limit| limit.0.map(|count| count as u64);
        CompareSettings {
            edges: self.band,
            tolerances: Tolerances {
                gain_db: limits.gain.0,
                residual_dbfs: limits.residual.0,
                loudness_lu: limits.loudness.0,
                true_peak_db: limits.true_peak.0,
                band_hz: limits.band_limit.0,
                delay_ms: limits.delay.0,
                drift_ppm: limits.drift.0,
                overs: whole(limits.overs),
                spots: whole(limits.spots),
                any_polarity: limits.any_polarity,
                any_channels: limits.any_channels,
                any_edits: limits.any_edits,
            },
        }
    }
}

/// A number of any sign. A true minus sign, as typesetting has it, is meant like a hyphen.
fn any(word: &str) -> Result<Limit, String> {
    if word == "any" {
        return Ok(Limit(None));
    }
    match word.replace('\u{2212}', "-").parse::<f64>() {
        Ok(number) if number.is_finite() => Ok(Limit(Some(number))),
        _ => Err(format!("'{word}' is no tolerance: write a number, or any")),
    }
}

/// A number that is not negative.
fn most(word: &str) -> Result<Limit, String> {
    match any(word)? {
        Limit(Some(number)) if number < 0.0 => {
            Err(format!("{number} allows nothing: a tolerance is 0 or more, or any"))
        }
        limit => Ok(limit),
    }
}

fn count(word: &str) -> Result<Limit, String> {
    match most(word)? {
        Limit(Some(number)) if number.fract() != 0.0 => Err(format!("{number} is no count")),
        limit => Ok(limit),
    }
}

fn frequency(word: &str) -> Result<Limit, String> {
    let (number, factor) = match word.strip_suffix(['k', 'K']) {
        Some(number) => (number, 1_000.0),
        None => (word, 1.0),
    };
    Ok(Limit(most(number)?.0.map(|hz| hz * factor)))
}
