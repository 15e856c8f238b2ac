//! The kinds of meter: a detector in one of the two bands.

use serde::{Deserialize, Deserializer, Serialize, Serializer};

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

/// A kind of meter in one band.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct MeterKind {
    /// How it reads.
    pub detector: Detector,
    /// Whether it reads the audible band alone.
    pub audible: bool,
}

impl MeterKind {
    /// Every kind: those of the whole band, then those of the audible band, in the order of every table.
    pub fn all() -> impl Iterator<Item = Self> {
        [false, true].into_iter().flat_map(|audible| {
            Detector::ALL.into_iter().map(move |detector| Self { detector, audible })
        })
    }

    /// Where its band stands in every table: 0 whole, 1 audible.
    #[must_use]
    pub fn band_index(self) -> usize {
        usize::from(self.audible)
    }

    /// Its band in records and options.
    #[must_use]
    pub fn band(self) -> &'static str {
        if self.audible { "audible" } else { "whole" }
    }

    /// As it is spoken of: "needle, whole band".
    #[must_use]
    pub fn word(self) -> String {
        format!("{} band", self.short())
    }

    /// The same where width is short.
    #[must_use]
    pub fn short(self) -> String {
        format!("{}, {}", self.detector.word(), self.band())
    }
}

/// `needle/whole`: the name in records.
impl std::fmt::Display for MeterKind {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(&format!("{}/{}", self.detector, self.band()))
    }
}

impl Serialize for MeterKind {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for MeterKind {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = <std::borrow::Cow<'de, str>>::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

/// Reads `needle`, `needle/whole` or `needle/audible`; the whole band where none is named.
impl std::str::FromStr for MeterKind {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let (name, band) = text.trim().split_once('/').unwrap_or((text.trim(), "whole"));
        let detector = Detector::ALL.into_iter().find(|detector| detector.name() == name);
        let detector = detector.ok_or_else(|| {
            let names = Detector::ALL.map(Detector::name);
            format!("there is no meter of the kind '{name}': it is one of {}", names.join(", "))
        })?;
        let audible = match band {
            "whole" => false,
            "audible" => true,
            _ => return Err(format!("'{band}' is no band: it is whole or audible")),
        };
        Ok(Self { detector, audible })
    }
}
