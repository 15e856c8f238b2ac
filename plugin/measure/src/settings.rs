//! What the user may choose, validated once so that the measures have no error left to return.

mod clip_at;
mod presets;

use serde::{Deserialize, Serialize};

use crate::channel::MOST_CHANNELS;
use crate::meter_kind::MeterKind;
pub use clip_at::ClipAt;
pub use presets::{PRESETS, Preset};

/// Lowest sample rate that can be measured, in Hz.
pub const LOWEST_RATE_HZ: f64 = 8_000.0;
/// Highest sample rate that can be measured, in Hz.
pub const HIGHEST_RATE_HZ: f64 = 768_000.0;
/// What the lower edge of the audible band may be, in Hz.
pub const LOWER_EDGE_RANGE_HZ: (f64, f64) = (5.0, 200.0);
/// What the upper edge of the audible band may be, in Hz.
pub const UPPER_EDGE_RANGE_HZ: (f64, f64) = (5_000.0, 40_000.0);

/// Why a meter cannot be made. Each names the value that came and what would do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SettingsError {
    /// The sample rate is zero, negative, not a number, or outside 8 to 768 kHz. The host's or
    /// the file's fault.
    Rate {
        /// The rate that came, in Hz.
        rate_hz: f64,
    },
    /// An edge of the audible band lies outside its range, or is not a number.
    Edge {
        /// The lower edge that came, in Hz.
        low_hz: f64,
        /// The upper edge that came, in Hz.
        high_hz: f64,
    },
    /// The lower edge does not lie below the upper edge.
    EdgesCrossed {
        /// The lower edge that came, in Hz.
        low_hz: f64,
        /// The upper edge that came, in Hz.
        high_hz: f64,
    },
    /// The bus has a number of channels that the halves cannot be made of.
    Channels {
        /// Channels of the main input.
        main: usize,
        /// Channels of the side-chain input.
        side_chain: usize,
    },
    /// A bus that is one input has no channels, or more than can be measured.
    ChannelCount {
        /// Channels that came.
        channels: usize,
    },
}

impl std::fmt::Display for SettingsError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Rate { rate_hz } => write!(
                f,
                "a sample rate of {rate_hz} Hz cannot be measured: it has to lie between \
                 {LOWEST_RATE_HZ} and {HIGHEST_RATE_HZ} Hz"
            ),
            Self::Edge { low_hz, high_hz } => write!(
                f,
                "an audible band from {low_hz} to {high_hz} Hz cannot be measured: the lower edge has to lie \
                 between {} and {} Hz, the upper edge between {} and {} Hz",
                LOWER_EDGE_RANGE_HZ.0,
                LOWER_EDGE_RANGE_HZ.1,
                UPPER_EDGE_RANGE_HZ.0,
                UPPER_EDGE_RANGE_HZ.1
            ),
            Self::EdgesCrossed { low_hz, high_hz } => write!(
                f,
                "the lower edge ({low_hz} Hz) has to lie below the upper edge ({high_hz} Hz)"
            ),
            Self::Channels { main, side_chain } => write!(
                f,
                "a bus of {main} channels with {side_chain} side-chain channels cannot be \
                 measured: the main input has to be mono or stereo, the side-chain absent, mono or \
                 stereo"
            ),
            Self::ChannelCount { channels } => write!(
                f,
                "{channels} channels cannot be measured: there have to be between 1 and \
                 {MOST_CHANNELS}"
            ),
        }
    }
}

impl std::error::Error for SettingsError {}

/// The edges of the audible band, each within its range.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "EdgesAsWritten")]
pub struct Edges {
    low_hz: f64,
    high_hz: f64,
}

/// Edges as a record holds them, of which nobody has said that they can be.
#[derive(Deserialize)]
struct EdgesAsWritten {
    low_hz: f64,
    high_hz: f64,
}

impl TryFrom<EdgesAsWritten> for Edges {
    type Error = SettingsError;

    fn try_from(written: EdgesAsWritten) -> Result<Self, SettingsError> {
        Self::new(written.low_hz, written.high_hz)
    }
}

impl Edges {
    /// 20 Hz and 20 kHz.
    pub const USUAL: Self = Self { low_hz: 20.0, high_hz: 20_000.0 };

    /// Edges at `low_hz` and `high_hz`, in Hz.
    ///
    /// # Errors
    ///
    /// When one lies outside its range, or is not a number.
    pub fn new(low_hz: f64, high_hz: f64) -> Result<Self, SettingsError> {
        if low_hz >= high_hz {
            return Err(SettingsError::EdgesCrossed { low_hz, high_hz });
        }
        let within = |hz: f64, (low, high): (f64, f64)| (low..=high).contains(&hz);
        if within(low_hz, LOWER_EDGE_RANGE_HZ) && within(high_hz, UPPER_EDGE_RANGE_HZ) {
            Ok(Self { low_hz, high_hz })
        } else {
            Err(SettingsError::Edge { low_hz, high_hz })
        }
    }

    /// The edges nearest to those asked for; the usual one in place of what is not a number.
    #[must_use]
    pub fn nearest(low_hz: f64, high_hz: f64) -> Self {
        let nearest = |hz: f64, (low, high): (f64, f64), usual: f64| {
            if hz.is_nan() { usual } else { hz.clamp(low, high) }
        };
        Self {
            low_hz: nearest(low_hz, LOWER_EDGE_RANGE_HZ, Self::USUAL.low_hz),
            high_hz: nearest(high_hz, UPPER_EDGE_RANGE_HZ, Self::USUAL.high_hz),
        }
    }

    /// Lower edge, in Hz: flat within 0.02 dB from here up, 60 dB down below 0.6 times here.
    #[must_use]
    pub fn low_hz(&self) -> f64 {
        self.low_hz
    }

    /// Upper edge, in Hz: flat up to here, 100 dB down from 1.1 times here (or from half the sample
    /// rate, where that is lower).
    #[must_use]
    pub fn high_hz(&self) -> f64 {
        self.high_hz
    }
}

impl Default for Edges {
    fn default() -> Self {
        Self::USUAL
    }
}

/// Whether a meter can measure at a rate.
pub(crate) fn check_rate(rate_hz: f64) -> Result<(), SettingsError> {
    if (LOWEST_RATE_HZ..=HIGHEST_RATE_HZ).contains(&rate_hz) {
        Ok(())
    } else {
        Err(SettingsError::Rate { rate_hz })
    }
}

/// What the two halves of the bus are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Halves {
    /// Half A is the left channel, half B the right.
    #[default]
    LeftRight,
    /// Half A is the main input, half B the side-chain input, both of one or two channels.
    MainSidechain,
    /// One channel: half A is all there is.
    Mono,
}

/// The length over which RMS is shown. The records' `rms_dbfs` is since reset whatever this says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RmsWindow {
    /// 300 ms.
    #[serde(rename = "0.3_s")]
    Short,
    /// 1 s.
    #[default]
    #[serde(rename = "1_s")]
    Medium,
    /// 3 s.
    #[serde(rename = "3_s")]
    Long,
    /// Since the last reset.
    SinceReset,
}

impl RmsWindow {
    /// Length in hops of 10 ms; `None` since reset.
    #[must_use]
    pub fn hops(self) -> Option<usize> {
        match self {
            Self::Short => Some(30),
            Self::Medium => Some(100),
            Self::Long => Some(300),
            Self::SinceReset => None,
        }
    }
}

/// What 0 dBFS means for an RMS level. AES17 refers it to a full-scale sine.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RmsReference {
    /// A full-scale square wave reads 0 dBFS, a full-scale sine −3.01 dBFS.
    #[default]
    FullScaleSquare,
    /// A full-scale sine reads 0 dBFS (AES17).
    FullScaleSine,
}

impl RmsReference {
    /// Decibels to add to `10·log10` of the mean square.
    #[must_use]
    pub fn offset_db(self) -> f64 {
        match self {
            Self::FullScaleSquare => 0.0,
            Self::FullScaleSine => 10.0 * std::f64::consts::LOG10_2,
        }
    }
}

/// How the true peak is found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TruePeakFilter {
    /// Band-limited interpolation around each maximum: within ±0.02 dB for steady sines up to
    /// 20 kHz at every rate from 44.1 kHz.
    #[default]
    Interpolated,
    /// The 4-phase filter printed in ITU-R BS.1770-5, Annex 2, for those who must match it. It
    /// reads between −0.46 and +0.22 dB on steady sines up to 20 kHz.
    Bs1770,
}

/// What kind of level the user works towards.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TargetKind {
    /// Integrated loudness of the audible band, in LUFS.
    #[default]
    Loudness,
    /// RMS of the audible band, in dBFS.
    Rms,
    /// True peak of the audible band, in dBTP.
    Peak,
}

/// The level that the user works towards.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Target {
    /// What is aimed at.
    pub kind: TargetKind,
    /// LUFS, dBFS or dBTP, by kind.
    pub value: f64,
}

impl Default for Target {
    /// −23 LUFS, as EBU R 128 has it: what is offered first to who wants a target.
    fn default() -> Self {
        Self { kind: TargetKind::Loudness, value: -23.0 }
    }
}

/// Scales lie no farther from dBFS, in dB.
pub const MOST_OFFSET_DB: f64 = 60.0;

/// Which meter the user's mixer shows.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct YourMeter {
    /// Its kind.
    pub kind: MeterKind,
    /// What its scale adds to dBFS (dBTP, LUFS), in dB: 18 where 0 on the scale is −18 dBFS.
    pub offset_db: f64,
}

/// Settings that shape how samples are measured: changing one starts the measurement afresh.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Settings {
    /// The audible band.
    pub edges: Edges,
    /// What the halves are.
    pub halves: Halves,
    /// How the true peak is found.
    pub true_peak: TruePeakFilter,
}

/// Settings that shape only how what was measured is read: they may change at any moment.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct View {
    /// The level aimed at; `None` where there is none, which is the default.
    pub target: Option<Target>,
    /// The highest peak allowed, in dBFS and dBTP.
    pub ceiling_db: f64,
    /// Where clipping is thought, to tell what it would add.
    #[serde(default)]
    pub clip_at: ClipAt,
    /// Length of the RMS window shown.
    pub rms_window: RmsWindow,
    /// What 0 dBFS means for RMS.
    pub rms_reference: RmsReference,
    /// Length of the sample-peak window, in seconds, 0.1 to 10.
    pub peak_window_s: f64,
    /// The meter that the user's mixer shows, where it is known.
    #[serde(default)]
    pub your_meter: Option<YourMeter>,
}

impl Default for View {
    fn default() -> Self {
        Self {
            target: None,
            // EBU R 128's highest true peak.
            ceiling_db: -1.0,
            clip_at: ClipAt::default(),
            rms_window: RmsWindow::default(),
            rms_reference: RmsReference::default(),
            peak_window_s: 3.0,
            your_meter: None,
        }
    }
}
