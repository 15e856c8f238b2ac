//! A finding of a comparison: a code, a severity, the numbers behind it, and one plain sentence.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::verdict::Severity;

/// What was found. In the order in which findings of one severity are listed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Code {
    /// The two files are not the same programme.
    NotTheSame,
    /// One file or both hold no sound.
    Silence,
    /// Too little sound to lay one file over the other.
    TooShort,
    /// A file holds samples that are no numbers.
    InvalidInput,
    /// Pieces were removed, inserted, replaced or silenced.
    Edited,
    /// Pieces stand in another order.
    Reordered,
    /// A stretch of the export is played twice, one behind the other.
    Repeated,
    /// Something that the mix does not hold plays over a stretch of it.
    SecondProgramme,
    /// The export begins late or ends early.
    Trimmed,
    /// Polarity was inverted, in all channels or in some.
    PolarityInverted,
    /// Channels were swapped, folded, dropped or otherwise mixed.
    ChannelsChanged,
    /// The same channels stand in another order.
    ChannelOrder,
    /// Many channels were folded to two, by coefficients.
    Downmix,
    /// A channel of the mix is in none of the export.
    ChannelMissing,
    /// A channel is late or early against the others.
    ChannelDelay,
    /// Samples are zeroed or repeated.
    Dropout,
    /// Single samples are wrong.
    WrongSamples,
    /// Overs or flat tops were added.
    Clipping,
    /// The waveform bends with its height, softly.
    Distorted,
    /// The loudest moments were turned down.
    Limiting,
    /// The gain follows the loudness, slowly.
    Normalised,
    /// The gain was another for a while.
    Ride,
    /// The beginning fades in, or the end fades out.
    Fade,
    /// The gain moves over time, and why cannot be told.
    GainMoves,
    /// The frequency response is not flat.
    Equalised,
    /// The phase is turned where the level is not.
    AllPass,
    /// It plays at another speed.
    Speed,
    /// The clocks differ.
    Drift,
    /// Reverberation follows the sound.
    Reverb,
    /// Steady noise or hum was added.
    NoiseAdded,
    /// Noise was taken away.
    Denoised,
    /// The spectrum ends earlier.
    BandLimited,
    /// It looks like lossy coding.
    LossyCoding,
    /// The sample rate was converted.
    RateConverted,
    /// The word is shorter.
    WordLength,
    /// Gain was changed.
    Gain,
    /// Loudness changed.
    Loudness,
    /// The true peak rose or fell.
    TruePeak,
    /// Hidden content came or went.
    Hidden,
    /// The export is late or early.
    Delay,
    /// The delay cannot be told from others.
    DelayAmbiguous,
    /// Something is left that none of the other findings explains.
    Unexplained,
    /// Nothing to report.
    Clean,
}

impl Code {
    /// Whether it says that the gain moves with level or time, or that the waveform bends.
    #[must_use]
    pub fn is_of_dynamics(self) -> bool {
        matches!(
            self,
            Self::Distorted
                | Self::Limiting
                | Self::Normalised
                | Self::Ride
                | Self::Fade
                | Self::GainMoves
        )
    }

    /// Whether it says that noise or reverberation came or went.
    #[must_use]
    pub fn is_of_noise(self) -> bool {
        matches!(self, Self::Reverb | Self::NoiseAdded | Self::Denoised)
    }
}

/// What a finding concerns. In the order in which findings of one severity are listed, but that what
/// is hidden stands behind all others.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Concern {
    /// The sound of the audible band.
    Audible,
    /// Bookkeeping: words, rate, container, where one file lies against the other.
    File,
    /// Sound outside the audible band.
    Hidden,
}

/// One finding.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    /// What was found.
    pub code: Code,
    /// How much it matters.
    pub severity: Severity,
    /// What it concerns.
    pub concerns: Concern,
    /// It in plain words.
    pub sentence: String,
    /// What to do about it; `None` where there is nothing to do.
    pub advice: Option<String>,
    /// The numbers behind it, each under a name that ends in its unit; none of them infinite.
    pub numbers: BTreeMap<&'static str, f64>,
}
