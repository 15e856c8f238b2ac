//! What `compare` takes.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use ledgerline_measure::Edges;
use ledgerline_measure::compare::{CompareSettings, Purpose, PurposeBy, Tolerances};

use super::measuring::band;
use super::report::ReportOptions;

/// Options of `compare`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  ledgerline compare mix.wav export.mov
  ledgerline compare --report what-happened.html mix.wav export.mp4
  ledgerline compare --for master mix.wav master.wav
  ledgerline compare --for lossy --delay 10 mix.wav video.mp4 && echo fine
  ledgerline compare --for same --gain any mix.wav export.wav
  ledgerline compare --json mix.wav export.flac | jq .verdict

What an export is for sets every tolerance; one that is given by itself takes its place. A tolerance
of 'any' allows anything.

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
    /// Do not ask the machine's own ffmpeg for what is not decoded here.
    #[arg(long)]
    pub own_decoders_only: bool,
    /// Edges of the audible band in Hz: 20-20000, or 20-16k.
    #[arg(long, value_name = "LOW-HIGH", default_value = "20-20000", value_parser = band)]
    pub band: Edges,
    /// What the export is for: lossy where its codec is, else same.
    #[arg(long = "for", value_name = "PURPOSE", value_enum)]
    pub purpose: Option<PurposeOption>,
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

/// What an export is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum PurposeOption {
    /// A lossless copy: nothing may happen but what rounding does.
    Same,
    /// A copy through lossy coding: judged by its noise against the sound.
    Lossy,
    /// A copy at another level, and nothing else.
    Normalised,
    /// A master: level, limiting and equalisation may change; edits, dropouts, channels, polarity,
    /// drift, clipping, noise and DC may not.
    Master,
}

impl From<PurposeOption> for Purpose {
    fn from(option: PurposeOption) -> Self {
        match option {
            PurposeOption::Same => Self::Same,
            PurposeOption::Lossy => Self::Lossy,
            PurposeOption::Normalised => Self::Normalised,
            PurposeOption::Master => Self::Master,
        }
    }
}

/// What the export is allowed to do, where that is not what its purpose allows.
#[derive(Debug, Clone, Args)]
#[command(next_help_heading = "Tolerances")]
pub struct ToleranceOptions {
    /// Gain either way, in dB.
    #[arg(long, value_name = "DB", value_parser = most)]
    pub gain: Option<Limit>,
    /// What may be left in the audible band once delay, gain and channels are taken out, in dBFS.
    #[arg(long, value_name = "DBFS", value_parser = any, allow_hyphen_values = true)]
    pub residual: Option<Limit>,
    /// What no filter explains, against the export's own level, in dB.
    #[arg(long, value_name = "DB", value_parser = any, allow_hyphen_values = true)]
    pub noise: Option<Limit>,
    /// Change in integrated loudness either way, in LU.
    #[arg(long, value_name = "LU", value_parser = most)]
    pub loudness: Option<Limit>,
    /// Rise in true peak, in dB.
    #[arg(long, value_name = "DB", value_parser = most)]
    pub true_peak: Option<Limit>,
    /// Lowest frequency at which the export's spectrum may end, in Hz: 16000, or 16k.
    #[arg(long, value_name = "HZ", value_parser = frequency)]
    pub band_limit: Option<Limit>,
    /// Range of the frequency response, in dB.
    #[arg(long, value_name = "DB", value_parser = most)]
    pub response: Option<Limit>,
    /// How far the gain may move with level or time, in dB.
    #[arg(long, value_name = "DB", value_parser = most)]
    pub dynamics: Option<Limit>,
    /// Delay either way, in milliseconds.
    #[arg(long, value_name = "MS", value_parser = most)]
    pub delay: Option<Limit>,
    /// Difference of the clocks either way, in parts per million.
    #[arg(long, value_name = "PPM", value_parser = most)]
    pub drift: Option<Limit>,
    /// DC that may be added, in dBFS.
    #[arg(long, value_name = "DBFS", value_parser = any, allow_hyphen_values = true)]
    pub dc: Option<Limit>,
    /// Overs and flat tops that may be added.
    #[arg(long, value_name = "COUNT", value_parser = count)]
    pub overs: Option<Limit>,
    /// Dropouts and other wrong spots.
    #[arg(long, value_name = "COUNT", value_parser = count)]
    pub spots: Option<Limit>,
    /// Let noise or reverberation come, or noise go.
    #[arg(long)]
    pub any_noise: bool,
    /// Let polarity be inverted.
    #[arg(long)]
    pub any_polarity: bool,
    /// Let channels be swapped, folded, dropped or late against each other.
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
    /// How the files are to be compared, the export's codec being lossy or not.
    #[must_use]
    pub fn settings(&self, is_lossy: bool) -> CompareSettings {
        let (purpose, purpose_by) = match self.purpose {
            Some(option) => (option.into(), PurposeBy::Choice),
            None if is_lossy => (Purpose::Lossy, PurposeBy::Codec),
            None => (Purpose::Same, PurposeBy::Default),
        };
        let tolerances = self.tolerances.over(&purpose.tolerances());
        CompareSettings { edges: self.band, purpose, purpose_by, tolerances }
    }
}

impl ToleranceOptions {
    /// These, and what a purpose allows for the rest.
    fn over(&self, base: &Tolerances) -> Tolerances {
        let or = |limit: Option<Limit>, base: Option<f64>| limit.map_or(base, |limit| limit.0);
        let whole = |limit: Option<Limit>, base: Option<u64>| match limit {
            Some(limit) => limit.0.map(|count| count as u64),
            None => base,
        };
        Tolerances {
            gain_db: or(self.gain, base.gain_db),
            residual_dbfs: or(self.residual, base.residual_dbfs),
            noise_db: or(self.noise, base.noise_db),
            loudness_lu: or(self.loudness, base.loudness_lu),
            true_peak_db: or(self.true_peak, base.true_peak_db),
            band_hz: or(self.band_limit, base.band_hz),
            response_db: or(self.response, base.response_db),
            dynamics_db: or(self.dynamics, base.dynamics_db),
            delay_ms: or(self.delay, base.delay_ms),
            drift_ppm: or(self.drift, base.drift_ppm),
            dc_dbfs: or(self.dc, base.dc_dbfs),
            overs: whole(self.overs, base.overs),
            spots: whole(self.spots, base.spots),
            any_noise: self.any_noise || base.any_noise,
            any_polarity: self.any_polarity || base.any_polarity,
            any_channels: self.any_channels || base.any_channels,
            any_edits: self.any_edits || base.any_edits,
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
