//! What an export is for: it says what the export may do to the mix before somebody sends it back.

use serde::{Deserialize, Serialize};

use super::tolerances::Tolerances;

/// What an export is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Purpose {
    /// A lossless copy: nothing may happen but what rounding does.
    #[default]
    Same,
    /// A copy through lossy coding.
    Lossy,
    /// A copy at another level, and nothing else.
    Normalised,
    /// A master: level, limiting and equalisation are changed on purpose.
    Master,
}

/// Why a comparison took its purpose.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PurposeBy {
    /// Somebody chose it.
    Choice,
    /// The export's codec is lossy.
    Codec,
    /// Nobody chose, and nothing speaks for another.
    #[default]
    Default,
}

impl Purpose {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Same, Self::Lossy, Self::Normalised, Self::Master];

    /// What is typed for it, and its name in records.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Same => "same",
            Self::Lossy => "lossy",
            Self::Normalised => "normalised",
            Self::Master => "master",
        }
    }

    /// What the export is then.
    #[must_use]
    pub fn phrase(self) -> &'static str {
        match self {
            Self::Same => "a lossless copy",
            Self::Lossy => "a lossy copy",
            Self::Normalised => "a copy at another level",
            Self::Master => "a master",
        }
    }

    /// What it allows. Common practice, without a source: what comes back is what an engineer would
    /// send back.
    #[must_use]
    pub fn tolerances(self) -> Tolerances {
        let same = Tolerances::default();
        match self {
            Self::Same => same,
            // The residual of coding is large by design. What counts is how far it lies below the
            // sound: coders at usual rates leave −20 dB of it or less on music, −13 dB on noise. They
            // also scale by up to half a decibel, and their peaks overshoot, which is told and no
            // reason to send the copy back.
            Self::Lossy => Tolerances {
                gain_db: Some(1.0),
                residual_dbfs: None,
                noise_db: Some(-12.0),
                loudness_lu: Some(1.0),
                true_peak_db: None,
                band_hz: Some(15_000.0),
                response_db: Some(3.0),
                dynamics_db: Some(1.5),
                overs: None,
                ..same
            },
            Self::Normalised => Tolerances {
                gain_db: None,
                // At another level the residual is too.
                residual_dbfs: None,
                noise_db: Some(-60.0),
                loudness_lu: None,
                true_peak_db: None,
                ..same
            },
            Self::Master => Tolerances {
                gain_db: None,
                residual_dbfs: None,
                loudness_lu: None,
                true_peak_db: None,
                response_db: None,
                dynamics_db: None,
                ..same
            },
        }
    }
}

impl PurposeBy {
    /// Why that purpose.
    #[must_use]
    pub fn phrase(self) -> &'static str {
        match self {
            Self::Choice => "as asked for",
            Self::Codec => "since its codec is lossy",
            Self::Default => "as nothing else was asked for",
        }
    }
}
