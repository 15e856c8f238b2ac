//! Level detectors as meters contain them: what a needle, a programme meter, an RMS, peak or
//! loudness reading shows of one signal.
//!
//! Each is a model of one published definition, named in its own file. Constructing one allocates,
//! `reset` clears it, `take` works without allocation, and how the samples are cut into slices
//! changes nothing. Values that are no sample count as silence.
//!
//! A detector tells two things: the highest level that it has shown, and what it showed on average
//! once it had settled. The first is how bursts and peaks are read, the second how anybody reads a
//! moving needle or number on a steady sound.

mod bank;
mod momentary;
mod needle;
mod quasi_peak;
mod rms;
mod sample_peak;
mod true_peak;

use serde::Serialize;

use crate::sample::sample_or_silence;

pub use bank::{Bank, Shown};
pub use momentary::Momentary;
pub use needle::Needle;
pub(crate) use quasi_peak::Branch;
pub use quasi_peak::{ProgrammeType, QuasiPeak};
pub use rms::Rms;
pub use sample_peak::SamplePeak;
pub use true_peak::TruePeak;

/// From here after a reset, in seconds, averages of what was shown count: the slowest window
/// (400 ms) has filled and the needle's overshoot has died away.
pub const SETTLING_S: f64 = 0.75;

/// The kinds of detector, in the order of every table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Detector {
    /// The largest sample, held.
    SamplePeak,
    /// The largest magnitude between the samples, held.
    TruePeak,
    /// RMS over 300 ms.
    Rms,
    /// Average-responding 300 ms needle, IEC 60268-17.
    Needle,
    /// Programme peak meter Type I, IEC 60268-10.
    #[serde(rename = "programme_1")]
    Programme1,
    /// Programme peak meter Type II, IEC 60268-10.
    #[serde(rename = "programme_2")]
    Programme2,
    /// Momentary loudness, ITU-R BS.1770 over 400 ms.
    Momentary,
}

impl Detector {
    /// Every kind, in the order of every table.
    pub const ALL: [Self; 7] = [
        Self::SamplePeak,
        Self::TruePeak,
        Self::Rms,
        Self::Needle,
        Self::Programme1,
        Self::Programme2,
        Self::Momentary,
    ];

    /// The name in records and options.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::SamplePeak => "sample_peak",
            Self::TruePeak => "true_peak",
            Self::Rms => "rms",
            Self::Needle => "needle",
            Self::Programme1 => "programme_1",
            Self::Programme2 => "programme_2",
            Self::Momentary => "momentary",
        }
    }

    /// The kind of detector as it is spoken of.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::SamplePeak => "sample peak",
            Self::TruePeak => "true peak",
            Self::Rms => "RMS",
            Self::Needle => "needle",
            Self::Programme1 => "programme peak I",
            Self::Programme2 => "programme peak II",
            Self::Momentary => "momentary loudness",
        }
    }

    /// What such a meter reads, for a sentence: "reads …".
    #[must_use]
    pub fn reads(self) -> &'static str {
        match self {
            Self::SamplePeak => "the largest sample, held",
            Self::TruePeak => "the true peak, held",
            Self::Rms => "the RMS over 300 ms",
            Self::Needle => "the rectified average on a 300 ms needle",
            Self::Programme1 => "a programme peak of Type I (5 ms)",
            Self::Programme2 => "a programme peak of Type II (10 ms)",
            Self::Momentary => "momentary loudness (K-weighted, 400 ms)",
        }
    }

    /// Whether a steady sound is read by the highest level shown. The others move around a mean,
    /// which is what is read.
    #[must_use]
    pub fn is_peak(self) -> bool {
        matches!(self, Self::SamplePeak | Self::TruePeak | Self::Programme1 | Self::Programme2)
    }
}

impl std::fmt::Display for Detector {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(self.name())
    }
}

/// The sample in double precision; silence if it is none.
#[inline(always)]
fn sample(value: f32) -> f64 {
    f64::from(sample_or_silence(value))
}

/// How many samples pass before averages count.
fn settling_frames(rate_hz: f64) -> u64 {
    (SETTLING_S * rate_hz).round() as u64
}
