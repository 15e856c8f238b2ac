//! What a comparison says, as plain data: what the command prints, the report draws and `--json`
//! writes. Field names, with their units, are the record's keys.

use serde::Serialize;

use super::finding::{Concern, Finding};
use super::levels::LevelSet;
use super::purpose::{Purpose, PurposeBy};
use super::tolerances::Tolerances;
use crate::level::Level;

/// The record's schema.
pub const COMPARE_SCHEMA: &str = "ledgerline.compare/1";

/// Everything that is known about the way from a mix to its export.
///
/// Times are seconds from the start of the file that the name says. What could not be measured is
/// `None` (`null`), or [`Level::NONE`]; nothing is made up. Where `alignment` is `None`, nothing
/// that rests on it exists either.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Comparison {
    /// Name and version of this record's shape.
    pub schema: &'static str,
    /// What the mix's file holds.
    pub mix: FileFacts,
    /// What the export's file holds.
    pub export: FileFacts,
    /// Where the export lies against the mix; `None` where the two could not be laid over each
    /// other.
    pub alignment: Option<Alignment>,
    /// Gain from mix to export, in dB, polarity apart; for a fold, that of what all channels share
    /// (0 dB for half of left plus right); for another map, that of its strongest part.
    pub gain_db: Option<f64>,
    /// Polarity of the export against the mix.
    pub polarity: Option<Polarity>,
    /// Which channel went where.
    pub channels: Option<ChannelMap>,
    /// Gain from each mix channel (column) to each export channel (row), linear, signed.
    pub channel_gains: Vec<Vec<f64>>,
    /// By how many samples of the export each of its channels is later than the alignment says.
    pub channel_delays_samples: Vec<f64>,
    /// Whether the sample rates differ.
    pub rate_converted: bool,
    /// Where the export's spectrum ends while the mix's goes on, in Hz; `None` where it does not.
    pub band_limit_hz: Option<f64>,
    /// The same with what is known about it.
    pub band_limit: Option<BandLimit>,
    /// Change in integrated loudness of the whole band, in LU.
    pub loudness_change_lu: Level,
    /// Change in true peak of the whole band, in dB.
    pub true_peak_change_db: Level,
    /// Runs of samples at or over full scale in the export less those in the mix.
    pub overs_added: Option<i64>,
    /// Flat-topped runs (three samples or more, equal, at the top of the file) in the export less
    /// those in the mix.
    pub clipped_runs_added: Option<i64>,
    /// RMS level of export less mix, after alignment, channel map and gain are taken out, edits left
    /// out; silence where the two are equal to the bit.
    pub residual_dbfs: Level,
    /// The same in detail.
    pub residual: Option<Residual>,
    /// Stretches that were removed, inserted or replaced, in the order of the export.
    pub edits: Vec<Edit>,
    /// Spots of a few samples that are wrong, in the order of time; the first
    /// [`MOST_SPOTS`](super::MOST_SPOTS) of them.
    pub spots: Vec<Spot>,
    /// How many there are in all.
    pub spots_found: u64,
    /// The same by kind.
    pub spot_counts: SpotCounts,
    /// Level-dependent gain.
    pub dynamics: Option<Dynamics>,
    /// Word length of the export against the mix, and dither.
    pub words: Option<WordChange>,
    /// Readings of both files side by side, in the order of the ledger.
    pub levels: BothLevels,
    /// Edges of the audible band, in Hz.
    pub audible_hz: [f64; 2],
    /// What there is to say, most important first; what is hidden last.
    pub findings: Vec<Finding>,
    /// The verdict.
    pub verdict: Verdict,
    /// It in one sentence.
    pub sentence: String,
    /// What the export was judged as.
    pub purpose: Purpose,
    /// Why as that.
    pub purpose_by: PurposeBy,
    /// What was allowed: what the purpose allows, or as it was changed.
    pub tolerances: Tolerances,
    /// What lies outside, one short sentence each; empty where all is within.
    pub outside: Vec<String>,
    /// Whether all lies within the tolerances.
    pub within: bool,
    /// What charts draw.
    pub charts: Charts,
}

impl Comparison {
    /// What the export was judged as, and why: "Judged as a master, as asked for".
    #[must_use]
    pub fn judged_as(&self) -> String {
        let changed = self.tolerances != self.purpose.tolerances();
        format!(
            "Judged as {}, {}{}",
            self.purpose.phrase(),
            self.purpose_by.phrase(),
            if changed { ", with tolerances of its own" } else { "" }
        )
    }

    /// The findings of one concern, but for one that is the sentence itself.
    pub fn told(&self, concern: Concern) -> impl Iterator<Item = &Finding> {
        let counts = move |finding: &&Finding| {
            finding.concerns == concern && finding.sentence != self.sentence
        };
        self.findings.iter().filter(counts)
    }

    /// What to do, none of it twice, in the order of the findings.
    #[must_use]
    pub fn steps(&self) -> Vec<&str> {
        let mut steps = Vec::new();
        for step in self.findings.iter().filter_map(|finding| finding.advice.as_deref()) {
            if !steps.contains(&step) {
                steps.push(step);
            }
        }
        steps
    }
}

/// What is known about one file as it came.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct FileFacts {
    /// Sample rate, in Hz.
    pub sample_rate_hz: u32,
    /// Channels.
    pub channels: usize,
    /// Frames.
    pub frames: u64,
    /// Length, in seconds.
    pub duration_s: f64,
    /// Bits a sample that the file states; `None` where it states none (lossy, floating point).
    pub stated_bits: Option<u32>,
    /// Bits a sample that are used: all samples lie on this grid; `None` where on none up to 32 bits
    /// (floating point, or decoded from lossy coding), or where the file is silent.
    pub used_bits: Option<u32>,
    /// Runs of samples at or over full scale, in all channels.
    pub overs: u64,
    /// Flat-topped runs, in all channels; none is told of a file too low for its words to show one.
    pub flat_tops: u64,
    /// Frames with a sample that is no number; they count as silence.
    pub invalid_frames: u64,
    /// Frames before the first sample that is not zero.
    pub silent_start_frames: u64,
    /// Whether all samples are zero.
    pub silent: bool,
}

/// Where the export lies against the mix.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Alignment {
    /// By how many samples of the export it is late: positive where the sound comes later in the
    /// export. At the first frame that the two share; after an edit it is another.
    pub delay_samples: f64,
    /// The same in seconds.
    pub delay_s: f64,
    /// Standard error of the delay, in samples.
    pub delay_error_samples: f64,
    /// How much longer the export takes for the same sound, in parts per million: positive where it
    /// plays slower.
    pub drift_ppm: f64,
    /// Standard error of the drift.
    pub drift_error_ppm: f64,
    /// Whether other delays fit as well (a steady tone): then it is the smallest of them.
    pub ambiguous: bool,
    /// The stretch that both files hold, in the mix's time, in seconds.
    pub mix_start_s: f64,
    /// Its end there.
    pub mix_end_s: f64,
    /// Its start in the export's time.
    pub export_start_s: f64,
    /// Its end there.
    pub export_end_s: f64,
    /// How much of the export is explained by the mix, 0 to 1 (mean coherence, weighted by power).
    pub likeness: f64,
}

/// Polarity of the export against the mix.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Polarity {
    /// As in the mix.
    Same,
    /// Inverted, in all channels.
    Inverted,
    /// Inverted in some channels only; `channel_gains` says in which.
    Mixed,
}

impl Polarity {
    /// What became of it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Same => "kept",
            Self::Inverted => "inverted",
            Self::Mixed => "inverted in some channels",
        }
    }
}

/// Which channel went where.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ChannelMap {
    /// Each to its own place.
    Same,
    /// Left and right changed places.
    Swapped,
    /// All channels folded into one, or into equal ones.
    MonoFold,
    /// Only the left channel is there.
    LeftOnly,
    /// Only the right channel is there.
    RightOnly,
    /// Another matrix: `channel_gains` says which.
    Other,
}

impl ChannelMap {
    /// Where they went.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Same => "as in the mix",
            Self::Swapped => "left and right swapped",
            Self::MonoFold => "folded to mono",
            Self::LeftOnly => "left only",
            Self::RightOnly => "right only",
            Self::Other => "mixed otherwise",
        }
    }
}

/// The end of the export's spectrum.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct BandLimit {
    /// Where the export has fallen by 3 dB against the mix for good, in Hz.
    pub hz: f64,
    /// Export against mix above it, in dB of energy; silence where nothing is left there.
    pub above_db: Level,
    /// What the mix holds above it, in dBFS.
    pub lost_dbfs: Level,
    /// Where the mix's own spectrum ends, in Hz.
    pub mix_end_hz: f64,
}

/// What is left of the export once the mix is taken out.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Residual {
    /// RMS in total.
    pub total_dbfs: Level,
    /// RMS in the audible band.
    pub audible_dbfs: Level,
    /// RMS below the band limit (or the lower half rate less its transition): what happened inside
    /// the band that both hold.
    pub in_band_dbfs: Level,
    /// Largest sample.
    pub peak_dbfs: Level,
    /// When it comes in the export, in seconds.
    pub peak_s: f64,
    /// Total against the export's own level in the same stretch, in dB.
    pub relative_db: Level,
    /// RMS of what no linear filter explains: noise, distortion, lossy coding.
    pub unexplained_dbfs: Level,
}

/// What was done to a stretch.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum EditKind {
    /// A piece of the mix is missing in the export.
    Removed,
    /// The export holds a piece that the mix does not.
    Inserted,
    /// A piece of the mix gave way to something else.
    Replaced,
    /// Something else was mixed over a piece.
    Overlaid,
    /// The export is silent for a while where the mix is not.
    Silenced,
    /// A piece stands at another place in the order.
    Moved,
    /// A piece is played once more.
    Repeated,
    /// The export begins after the mix's beginning.
    StartTrimmed,
    /// The export ends before the mix's end.
    EndTrimmed,
}

impl EditKind {
    /// What was done.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Removed => "removed",
            Self::Inserted => "inserted",
            Self::Replaced => "replaced",
            Self::Overlaid => "mixed over",
            Self::Silenced => "silenced",
            Self::Moved => "in another order",
            Self::Repeated => "played twice",
            Self::StartTrimmed => "missing at the start",
            Self::EndTrimmed => "missing at the end",
        }
    }
}

/// One edit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Edit {
    /// Where it is in the mix, in seconds.
    pub mix_s: f64,
    /// Where it is in the export, in seconds.
    pub export_s: f64,
    /// How long it is, in seconds: of what was removed, inserted or replaced.
    pub length_s: f64,
    /// By how much the place was not found more closely, in seconds: 0 to the sample.
    pub error_s: f64,
    /// What was done.
    pub kind: EditKind,
}

/// What is wrong with a spot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SpotKind {
    /// Samples that are zero and ought not to be.
    Zeroed,
    /// A sample that is repeated instead of the next ones.
    Held,
    /// A sample cut off at full scale.
    Clipped,
    /// A sample of a wrong value: a click.
    Wrong,
}

impl SpotKind {
    /// What is wrong.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Zeroed => "zeroed",
            Self::Held => "repeated",
            Self::Clipped => "clipped",
            Self::Wrong => "wrong value",
        }
    }
}

/// How many spots there are of each kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
pub struct SpotCounts {
    /// Samples that are zero and ought not to be.
    pub zeroed: u64,
    /// Samples that are repeated instead of the next ones.
    pub held: u64,
    /// Samples cut off at full scale.
    pub clipped: u64,
    /// Samples of a wrong value.
    pub wrong: u64,
}

impl SpotCounts {
    /// How many there are of a kind.
    #[must_use]
    pub fn of(&self, kind: SpotKind) -> u64 {
        match kind {
            SpotKind::Zeroed => self.zeroed,
            SpotKind::Held => self.held,
            SpotKind::Clipped => self.clipped,
            SpotKind::Wrong => self.wrong,
        }
    }

    /// Counts one more.
    pub(super) fn add(&mut self, kind: SpotKind) {
        let count = match kind {
            SpotKind::Zeroed => &mut self.zeroed,
            SpotKind::Held => &mut self.held,
            SpotKind::Clipped => &mut self.clipped,
            SpotKind::Wrong => &mut self.wrong,
        };
        *count += 1;
    }
}

/// A spot of a few wrong samples.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Spot {
    /// When it begins in the export, in seconds.
    pub export_s: f64,
    /// Which frame that is.
    pub export_frame: u64,
    /// When that is in the mix.
    pub mix_s: f64,
    /// Channel of the export, from 0.
    pub channel: usize,
    /// How many samples are wrong.
    pub samples: u32,
    /// By how much, at most, in dBFS.
    pub error_dbfs: Level,
    /// What is wrong.
    pub kind: SpotKind,
}

/// How the gain depends on the level and on time.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Dynamics {
    /// Gain of the loudest blocks against that of ordinary ones, in dB; negative where they were
    /// turned down.
    pub loud_gain_db: f64,
    /// Gain of the quietest blocks that can be judged against that of ordinary ones, in dB.
    pub quiet_gain_db: f64,
    /// Largest reduction of a block, in dB, positive.
    pub most_reduction_db: f64,
    /// When that block comes in the export, in seconds.
    pub most_reduction_s: f64,
    /// Share of the blocks that were turned down by more than 0.5 dB, 0 to 1.
    pub reduced_share: f64,
    /// Spread of the blocks' gains, in dB: half the range that holds the middle 90 %.
    pub spread_db: f64,
    /// Level above which samples are turned down, in dBFS of the mix; `None` where there is none.
    pub threshold_dbfs: Option<f64>,
}

/// How a shorter word was made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Dither {
    /// Rounded: no dither.
    Plain,
    /// Cut off: no dither, and half a step of DC.
    Truncated,
    /// With rectangular dither.
    Rectangular,
    /// With triangular dither.
    Triangular,
    /// With noise shaped in frequency.
    Shaped,
    /// Cannot be told: the residual is more than a word's rounding.
    CannotTell,
}

impl Dither {
    /// How it was made.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Plain => "rounded without dither",
            Self::Truncated => "cut off without dither",
            Self::Rectangular => "with rectangular dither",
            Self::Triangular => "with triangular dither",
            Self::Shaped => "with shaped dither",
            Self::CannotTell => "dither cannot be told",
        }
    }
}

/// Change of word length.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct WordChange {
    /// Bits used in the mix; `None` for floating point.
    pub mix_bits: Option<u32>,
    /// Bits used in the export.
    pub export_bits: u32,
    /// How it was shortened; `None` where it was not.
    pub dither: Option<Dither>,
    /// Level of the rounding that this word length with this dither makes, in dBFS.
    pub expected_dbfs: Level,
    /// Level found, in dBFS.
    pub measured_dbfs: Level,
}

/// Readings of both files and their difference.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct BothLevels {
    /// Those of the mix.
    pub mix: LevelSet,
    /// Those of the export.
    pub export: LevelSet,
    /// Export less mix.
    pub change: LevelSet,
}

/// The verdict.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Every sample is the mix's; a delay may lie between them.
    Identical,
    /// The same but for gain, polarity, delay or the rounding to the export's word length.
    GainOnly,
    /// Something else happened; the findings say what.
    Changed,
    /// The files could not be laid over each other: not the same programme, or too little sound.
    CannotTell,
}

impl Verdict {
    /// The verdict in a word or two.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Identical => "Identical",
            Self::GainOnly => "Gain only",
            Self::Changed => "Changed",
            Self::CannotTell => "Cannot tell",
        }
    }
}

/// What charts draw. Long series are thinned to a few hundred points.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Charts {
    /// The residual, and the aligned mix and export, by third-octave (IEC 61260-1, base ten).
    pub thirds: Vec<Third>,
    /// Mean spectra of both files, in bands of a 24th of an octave.
    pub spectrum: Vec<SpectrumPoint>,
    /// Gain, residual and levels over time.
    pub time: Vec<TimePoint>,
}

/// One third-octave band.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Third {
    /// Exact mid-band frequency, in Hz.
    pub hz: f64,
    /// Mix, aligned, mapped and with its gain, in dBFS.
    pub mix_dbfs: Level,
    /// Export, in dBFS.
    pub export_dbfs: Level,
    /// Residual, in dBFS.
    pub residual_dbfs: Level,
}

/// One point of the spectra.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SpectrumPoint {
    /// Mid-band frequency, in Hz.
    pub hz: f64,
    /// Mix as stored (all channels together), in dBFS; none above half its rate.
    pub mix_dbfs: Level,
    /// Export as stored, in dBFS; none above half its rate.
    pub export_dbfs: Level,
}

/// One point in time.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TimePoint {
    /// In the export, in seconds.
    pub export_s: f64,
    /// Gain from mix to export, in dB; none in silence or in an edit.
    pub gain_db: Option<f64>,
    /// Level of the export, in dBFS.
    pub export_dbfs: Level,
    /// Level of the residual, in dBFS; none in an edit.
    pub residual_dbfs: Level,
}
