//! What differs from an ideal mixer without breaking the law of addition, and against what it is
//! graded.

use serde::Serialize;

/// How far the channels may be apart in time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum DelayLimit {
    /// In samples of the recording.
    Samples(f64),
    /// In seconds.
    Seconds(f64),
}

impl DelayLimit {
    /// In samples at a rate.
    #[must_use]
    pub fn samples(self, rate_hz: f64) -> f64 {
        match self {
            Self::Samples(samples) => samples,
            Self::Seconds(seconds) => seconds * rate_hz,
        }
    }
}

/// What the difference between the channels is graded against.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// "digital", "analogue", or "own".
    pub name: &'static str,
    /// How far the channels' levels may be apart, and how much of a sum a soft bend may take, in dB.
    pub level_db: f64,
    /// How far the channels may be apart in time.
    pub delay: DelayLimit,
}

impl Limits {
    /// Of a mixer that computes: 0.05 dB, a tenth of a sample.
    pub const DIGITAL: Self =
        Self { name: "digital", level_db: 0.05, delay: DelayLimit::Samples(0.1) };
    /// Of a mixer with faders and converters: 1 dB, 100 µs.
    pub const ANALOGUE: Self =
        Self { name: "analogue", level_db: 1.0, delay: DelayLimit::Seconds(100e-6) };

    /// As a record, at a rate.
    #[must_use]
    pub fn record(&self, rate_hz: f64) -> LimitsRecord {
        let delay_samples = self.delay.samples(rate_hz);
        LimitsRecord {
            name: self.name,
            level_db: self.level_db,
            delay_samples,
            delay_s: delay_samples / rate_hz,
        }
    }
}

/// The limits of an audit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LimitsRecord {
    /// "digital", "analogue", or "own".
    pub name: &'static str,
    /// Of levels, in dB.
    pub level_db: f64,
    /// Of delays, in samples.
    pub delay_samples: f64,
    /// The same in seconds.
    pub delay_s: f64,
}

/// Kinds of grade.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum GradeCode {
    /// Level of feed 2's channel against feed 1's.
    LevelDifference,
    /// How much later feed 2's channel is than feed 1's.
    DelayDifference,
    /// Third harmonic of a sine as high as both feeds' peaks together.
    Distortion,
    /// What a sum loses by distortion.
    SumLoss,
    /// The recording's own noise against the step that changes are told against.
    NoiseFloor,
}

impl GradeCode {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::LevelDifference,
        Self::DelayDifference,
        Self::Distortion,
        Self::SumLoss,
        Self::NoiseFloor,
    ];

    /// What is graded, in a few words.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::LevelDifference => "level difference",
            Self::DelayDifference => "delay difference",
            Self::Distortion => "distortion",
            Self::SumLoss => "loss of the sum",
            Self::NoiseFloor => "noise floor",
        }
    }
}

/// Something measured, and whether it is within its limit.
#[derive(Debug, Clone, Serialize)]
pub struct Grade {
    /// Its kind.
    pub code: GradeCode,
    /// The figure, signed.
    pub value: f64,
    /// The unit of value, uncertainty and limit.
    pub unit: &'static str,
    /// How far the figure may be off.
    pub uncertainty: f64,
    /// How far from 0 it may be; `None` where any value will do.
    pub limit: Option<f64>,
    /// Whether it is no farther, as far as can be told.
    pub within: bool,
    /// Whether it is more than its own uncertainty.
    pub told: bool,
    /// A plain sentence.
    pub sentence: String,
    /// What to turn, where the figure is worth it.
    pub action: Option<String>,
}
