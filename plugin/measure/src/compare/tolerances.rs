//! What an export may do to a mix before it fails.

use serde::{Deserialize, Serialize};

/// What is allowed. `None` allows anything.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Tolerances {
    /// Gain either way, in dB; also how far the channels' gains may lie apart.
    pub gain_db: Option<f64>,
    /// Highest residual in the audible band, in dBFS.
    pub residual_dbfs: Option<f64>,
    /// Most that no linear filter explains, against the export's own level, in dB.
    pub noise_db: Option<f64>,
    /// Change in integrated loudness either way, in LU.
    pub loudness_lu: Option<f64>,
    /// Rise in true peak, in dB.
    pub true_peak_db: Option<f64>,
    /// Lowest frequency at which the export's spectrum may end, in Hz.
    pub band_hz: Option<f64>,
    /// Range of the frequency response, in dB.
    pub response_db: Option<f64>,
    /// How far the gain may move with level or time, in dB. `None` also allows soft distortion.
    pub dynamics_db: Option<f64>,
    /// Delay either way, in milliseconds.
    pub delay_ms: Option<f64>,
    /// Drift either way, in parts per million.
    pub drift_ppm: Option<f64>,
    /// Highest DC that may be added, in dBFS.
    pub dc_dbfs: Option<f64>,
    /// Overs and flat tops that may be added.
    pub overs: Option<u64>,
    /// Spots of wrong samples.
    pub spots: Option<u64>,
    /// Whether noise or reverberation may be added, or noise taken away.
    pub any_noise: bool,
    /// Whether polarity may be inverted.
    pub any_polarity: bool,
    /// Whether channels may be swapped, folded, dropped or late against each other.
    pub any_channels: bool,
    /// Whether pieces may be missing, added or replaced.
    pub any_edits: bool,
}

impl Default for Tolerances {
    /// Common practice, without a source: what an engineer would accept of a lossless export.
    fn default() -> Self {
        Self {
            gain_db: Some(0.1),
            residual_dbfs: Some(-60.0),
            noise_db: None,
            loudness_lu: Some(0.2),
            true_peak_db: Some(0.5),
            band_hz: Some(16_000.0),
            response_db: Some(0.5),
            dynamics_db: Some(0.3),
            delay_ms: None,
            drift_ppm: Some(1.0),
            dc_dbfs: Some(-60.0),
            overs: Some(0),
            spots: Some(0),
            any_noise: false,
            any_polarity: false,
            any_channels: false,
            any_edits: false,
        }
    }
}

impl Tolerances {
    /// Tolerances that allow anything.
    #[must_use]
    pub fn none() -> Self {
        Self {
            gain_db: None,
            residual_dbfs: None,
            noise_db: None,
            loudness_lu: None,
            true_peak_db: None,
            band_hz: None,
            response_db: None,
            dynamics_db: None,
            delay_ms: None,
            drift_ppm: None,
            dc_dbfs: None,
            overs: None,
            spots: None,
            any_noise: true,
            any_polarity: true,
            any_channels: true,
            any_edits: true,
        }
    }
}
