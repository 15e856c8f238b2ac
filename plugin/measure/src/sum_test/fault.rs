//! A fault of a mixer, as a record.

use std::collections::BTreeMap;

use serde::Serialize;

/// Kinds of fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum FaultCode {
    /// One feed does not come through.
    MissingChannel,
    /// Left carries one feed and right the other.
    NotSummed,
    /// As above, and the feeds are on each other's channels.
    FeedsSwapped,
    /// One channel inverts its signal and the other does not.
    PolarityTurned,
    /// The loudest samples come out too low.
    Clipping,
    /// Both together do not make what they make apart.
    SumRatio,
    /// The gain moves while the test plays.
    Modulation,
    /// The null is not as deep as gains and delays would have it.
    NullDepth,
    /// The recorder lost samples, or played some twice.
    RecorderSlip,
    /// The top of the band is missing.
    BandLimit,
}

impl FaultCode {
    /// The fault in a few words.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::MissingChannel => "missing channel",
            Self::NotSummed => "not summed",
            Self::FeedsSwapped => "feeds swapped",
            Self::PolarityTurned => "channel inverted",
            Self::Clipping => "clipping",
            Self::SumRatio => "sum ratio",
            Self::Modulation => "modulation",
            Self::NullDepth => "null depth",
            Self::RecorderSlip => "recorder slip",
            Self::BandLimit => "band limit",
        }
    }

    /// What to do about it, where that can be said.
    #[must_use]
    pub fn action(self) -> Option<&'static str> {
        match self {
            Self::MissingChannel => Some(
                "Check that feed's channel: its switch and fader, where it is sent, and which file it \
                 plays.",
            ),
            Self::NotSummed => Some("Send both channels to the middle of the bus."),
            Self::FeedsSwapped => {
                Some("Swap the feeds, and send both channels to the middle of the bus.")
            }
            Self::PolarityTurned => Some("Invert one of the two channels."),
            Self::Clipping => {
                Some("Turn down what comes before the place that clips, or bypass the limiter.")
            }
            Self::SumRatio => Some(
                "Look for what acts only while both channels play: dynamics, automatic mixing, or a \
                 bus gain that follows the number of channels.",
            ),
            Self::Modulation => Some(
                "Bypass dynamics and moving effects on both channels, on the bus and in the recorder.",
            ),
            Self::NullDepth => Some(
                "Look for a filter or an effect on one channel only, and for a send from one channel \
                 to the other.",
            ),
            Self::RecorderSlip => Some(
                "Record again: one clock for player and recorder, or a larger buffer in the recorder, \
                 may help.",
            ),
            Self::BandLimit => None,
        }
    }

    /// Whether the fault makes the sum wrong. A band limit alone does not, nor does a recorder.
    #[must_use]
    pub fn spoils_sum(self) -> bool {
        !matches!(self, Self::BandLimit | Self::RecorderSlip)
    }
}

/// One fault.
#[derive(Debug, Clone, Serialize)]
pub struct Fault {
    /// Its kind.
    pub code: FaultCode,
    /// A plain sentence.
    pub sentence: String,
    /// What to do about it, where that can be said.
    pub action: Option<&'static str>,
    /// The figures behind it; each key ends in its unit.
    pub numbers: BTreeMap<&'static str, f64>,
}
