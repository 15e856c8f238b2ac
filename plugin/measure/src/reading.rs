//! One complete set of readings, as plain data: what the editor draws, the log writes and the
//! command prints. Field names, with their units, are the records' keys.

mod yours;

use serde::{Serialize, Serializer};

use crate::causes::Causes;
use crate::decorrelation::Decorrelation;
use crate::finding::{Fact, Finding, Findings, Severity};
use crate::level::Level;
use crate::settings::{Edges, Halves, Target};
pub use yours::YourMeterReading;

/// One complete set of readings, taken at one moment.
///
/// Peaks, RMS, halves, hidden content, loudness range, integrated loudness and the limiter's work
/// are those since reset; momentary and short-term loudness are the latest, or in a file's reading
/// the highest. What is read over a shorter window stands under `windows`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Reading {
    /// Name and version of this record's shape.
    pub schema: &'static str,
    /// Length of audio that the reading covers, in seconds.
    pub time_s: f64,
    /// Sample rate, in Hz.
    pub sample_rate_hz: f64,
    /// What the halves are.
    pub halves: Halves,
    /// The signal as stored.
    pub whole: BandReading,
    /// What is left between the two edges.
    pub audible: BandReading,
    /// Where one half of the whole band holds the other again, later. None: no such copy was found,
    /// which does not mean that there is none.
    pub late_copy: Option<LateCopy>,
    /// What clipping would add, and what clipping upstream has left.
    pub damage: Damage,
    /// What the whole band holds and the audible band does not.
    pub hidden: Hidden,
    /// Headroom claimed and headroom there really is.
    pub room: Room,
    /// What takes or hides room; the prices add up to what is withheld.
    pub causes: Causes,
    /// True peak of (L + R)/√2, as a mono fold-down would have it; none where the halves are not left
    /// and right.
    pub fold_down_dbtp: Level,
    /// Lift, no higher than the ceiling less the highest whole-band true peak: safe as the mix stands.
    pub lift_now_db: Level,
    /// How late a copy of the bus has to come to add like an independent sound; unknown on a meter that
    /// does not keep what it is told from, as that of an audio thread.
    pub decorrelation_ms: Decorrelation,
    /// Gain reduction of an ideal limiter at the ceiling.
    pub limiter: Limiter,
    /// What the user's own meter shows; none where it is not known.
    pub your_meter: Option<YourMeterReading>,
    /// What there is to say about it, most important first.
    pub findings: Findings,
    /// Readings over shorter windows.
    pub windows: Windows,
}

impl Reading {
    /// When the first over of the bus came, in seconds since reset; none where not all moments are kept.
    #[must_use]
    pub fn first_over_s(&self) -> Option<f64> {
        let kept = self.windows.over_times_s.as_slice();
        let all = self.whole.bus.overs == Some(kept.len() as u64);
        kept.first().copied().filter(|_| all)
    }

    /// The reading of something that has ended: momentary and short-term loudness are the highest
    /// of the whole, instead of the latest, and what it closes with is no finding.
    #[must_use]
    pub fn over_the_whole(mut self) -> Self {
        let bands =
            [(&mut self.whole, &self.windows.whole), (&mut self.audible, &self.windows.audible)];
        for (band, windows) in bands {
            for (levels, highest) in [
                (&mut band.a, &windows.a),
                (&mut band.b, &windows.b),
                (&mut band.sum, &windows.sum),
                (&mut band.bus, &windows.bus),
            ] {
                levels.momentary_lufs = highest.momentary_max_lufs;
                levels.short_term_lufs = highest.short_term_max_lufs;
            }
        }
        let rms_dbfs = self.audible.bus.rms_dbfs;
        self.your_meter = self.your_meter.map(|read| read.over_the_whole(rms_dbfs));
        let clean = Fact::clean(self.room.true_room_db, self.room.ceiling_db);
        self.findings.leave_closing_silence(Finding::new(Severity::Clear, clean));
        self
    }
}

/// The record's schema.
pub const READING_SCHEMA: &str = "ledgerline.reading/1";

/// All levels in one band.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct BandReading {
    /// Half A.
    pub a: Levels,
    /// Half B; no readings in mono.
    pub b: Levels,
    /// A + B at unity gain; no readings in mono.
    pub sum: Levels,
    /// The higher of A and B for peaks, A and B together for loudness and energy (RMS: the mean of
    /// their mean squares, so that a full-scale sine in both reads −3.01 dBFS). On a bus of more than
    /// two channels, all of them.
    pub bus: Levels,
    /// How A and B relate and add.
    pub halves: HalvesReading,
}

/// The levels of one signal in one band.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Levels {
    /// Largest magnitude of a sample.
    pub sample_peak_dbfs: Level,
    /// Largest magnitude of the waveform between samples.
    pub true_peak_dbtp: Level,
    /// Root mean square, DC included in the whole band.
    pub rms_dbfs: Level,
    /// Sample peak over RMS: 3.01 dB for a sine, whatever the RMS reference.
    pub crest_db: Level,
    /// Loudness of the latest 400 ms.
    pub momentary_lufs: Level,
    /// Loudness of the latest 3 s.
    pub short_term_lufs: Level,
    /// Gated loudness since reset.
    pub integrated_lufs: Level,
    /// Loudness range since reset.
    pub lra_lu: Level,
    /// Runs of samples at or over full scale, counted in each channel and added up; none where there
    /// is no such signal.
    pub overs: Option<u64>,
}

/// How half A and half B relate, and how they add.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct HalvesReading {
    /// mean(ab) / (rms(a)·rms(b)), −1 to 1, mean not removed; none where a half is silent.
    pub correlation: Option<f64>,
    /// RMS level of the sum less the power sum of the halves' levels: +3.01 dB identical, 0 dB
    /// independent, −∞ when they cancel.
    pub sum_gain_energy_db: Level,
    /// The same of the held sample peaks.
    pub sum_gain_peak_db: Level,
    /// RMS level that the sum would have if the halves were one signal at two levels.
    pub coherent_dbfs: Level,
    /// RMS level that the sum would have if the halves were independent.
    pub power_dbfs: Level,
    /// RMS level of A − B.
    pub null_dbfs: Level,
    /// RMS level of A less that of B.
    pub level_difference_db: Level,
}

/// What clipping would add, since reset, and what clipping has left in samples that hide it: tops that
/// are flat below full scale.
///
/// Levels do not exist where the loss came before: the samples are words of integers and the limit is
/// full scale, or none is over the limit while some stand at full scale or in flat tops. They are those
/// of the bus, as its RMS.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Damage {
    /// Where clipping is thought: full scale, or the ceiling.
    pub limit_dbfs: Level,
    /// Samples over the limit, of all channels; none where words of integers end there.
    pub clipped_samples: Option<u64>,
    /// Runs of them, counted in each channel, and added up.
    pub clipped_runs: Option<u64>,
    /// When the first of them came, in seconds since reset; none where there is none.
    pub first_clipped_s: Option<f64>,
    /// When the last of them came.
    pub last_clipped_s: Option<f64>,
    /// RMS level of what clipping takes off, in the audible band.
    pub audible_dbfs: Level,
    /// The same less the RMS level of the audible band.
    pub re_programme_db: Level,
    /// RMS level of what clipping takes off in the worst 100 ms: of those in which a sample is over the
    /// limit, those in which it comes nearest to the programme. In the audible band.
    pub worst_audible_dbfs: Level,
    /// The same less the RMS level of the audible band in the same 100 ms.
    pub worst_re_programme_db: Level,
    /// When these begin, in seconds since reset.
    pub worst_at_s: Option<f64>,
    /// Whether something may have been clipped before it came here, which cannot be worked out: always
    /// of words of integers.
    pub is_lost: bool,
    /// Runs of three or more equal samples within 0.1 dB of the highest peak and below full scale,
    /// from which the waveform falls away on both sides; counted in each channel, and added up.
    /// Clipping leaves them, and a square wave has them by nature.
    pub flat_tops: u64,
    /// When the latest of them began, in seconds since reset, oldest first.
    pub flat_top_times_s: OverTimes,
}

/// One of the two halves of the bus.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Half {
    /// Left, or the main input.
    A,
    /// Right, or the side-chain.
    B,
}

/// One half in the other again, later.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LateCopy {
    /// The half that comes later.
    pub later: Half,
    /// By how much.
    pub delay_ms: f64,
    /// Whether it comes inverted.
    pub inverted: bool,
    /// Correlation of the halves with the delay taken out, −1 to 1; none where the delay is too long
    /// for the transforms to tell it within a tenth.
    pub correlation: Option<f64>,
}

/// What the whole band holds and the audible band does not, since reset, A and B together.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Hidden {
    /// RMS level above the upper edge.
    pub above_dbfs: Level,
    /// RMS level below the lower edge, DC apart.
    pub below_dbfs: Level,
    /// Level of the mean of the samples.
    pub dc_dbfs: Level,
    /// Share of the energy that is above, 0 to 1; the four shares add to 1; none in silence.
    pub above_share: Option<f64>,
    /// Share of the energy that is below.
    pub below_share: Option<f64>,
    /// Share of the energy that is DC.
    pub dc_share: Option<f64>,
    /// Share of the energy that is audible.
    pub audible_share: Option<f64>,
    /// The strongest hidden tones, strongest first.
    pub tones: Tones,
}

/// How many hidden tones a reading can hold.
pub const MOST_TONES: usize = 8;

/// A steady tone outside the audible band.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Tone {
    /// Frequency.
    pub hz: f64,
    /// RMS level, A and B together.
    pub dbfs: Level,
}

/// A short list of tones.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Tones {
    count: usize,
    tones: [Tone; MOST_TONES],
}

impl Tones {
    /// Adds a tone if there is space for it.
    pub fn push(&mut self, tone: Tone) {
        if let Some(slot) = self.tones.get_mut(self.count) {
            *slot = tone;
            self.count += 1;
        }
    }

    /// The same tones, their levels raised by `db` decibels.
    #[must_use]
    pub fn raised_by(mut self, db: f64) -> Self {
        for tone in &mut self.tones[..self.count] {
            tone.dbfs = tone.dbfs.plus(db);
        }
        self
    }

    /// The strongest tone on one side of the audible band: above its upper edge, or below its lower.
    #[must_use]
    pub fn strongest(&self, edges: Edges, above: bool) -> Option<&Tone> {
        self.as_slice().iter().find(|tone| (tone.hz > edges.high_hz()) == above)
    }

    /// The tones, strongest first.
    #[must_use]
    pub fn as_slice(&self) -> &[Tone] {
        &self.tones[..self.count]
    }
}

impl Serialize for Tones {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.as_slice())
    }
}

/// Headroom: claimed, real, and what may be done with it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Room {
    /// The highest peak allowed, in dBFS and dBTP.
    pub ceiling_db: f64,
    /// Ceiling less the highest whole-band sample peak of the bus.
    pub room_db: Level,
    /// Ceiling less the highest audible-band true peak of the bus.
    pub true_room_db: Level,
    /// True room less room, signed.
    pub withheld_db: Level,
    /// The level aimed at. Without one there is no lift either.
    pub target: Option<Target>,
    /// Target less the measured audible level of the bus.
    pub lift_db: Level,
    /// Lift, no higher than the true room.
    pub lift_allowed_db: Level,
}

/// The largest gain reduction since reset of an ideal limiter at the ceiling, as positive decibels.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Limiter {
    /// Working on the whole band.
    pub whole_db: Level,
    /// Working on the audible band.
    pub audible_db: Level,
    /// Whole less audible: reduction spent on hidden content.
    pub hidden_db: Level,
}

/// Readings over windows shorter than the time since reset.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Windows {
    /// Length of the sample-peak window.
    pub peak_window_s: f64,
    /// Length of the RMS window; none where it is since reset.
    pub rms_window_s: Option<f64>,
    /// Whole band.
    pub whole: BandWindows,
    /// Audible band.
    pub audible: BandWindows,
    /// Latest gain reduction of the ideal limiter, as positive decibels.
    pub limiter: Limiter,
    /// When the latest overs of the whole-band bus began, in seconds since reset, oldest first.
    pub over_times_s: OverTimes,
    /// Frames since reset that held a sample that is no level: NaN, infinite, or above +120 dBFS.
    pub invalid_frames: u64,
    /// How long no sample of the bus has been above −90 dBFS at the end, in seconds; none where the
    /// latest hop of 10 ms has one.
    pub silent_s: Option<f64>,
}

/// Window readings of one band.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct BandWindows {
    /// Half A.
    pub a: WindowLevels,
    /// Half B.
    pub b: WindowLevels,
    /// A + B.
    pub sum: WindowLevels,
    /// The bus.
    pub bus: WindowLevels,
    /// How A and B add, over the RMS window (peaks: over the peak window).
    pub halves: HalvesReading,
}

/// Window readings of one signal.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct WindowLevels {
    /// Largest sample magnitude in the peak window.
    pub sample_peak_dbfs: Level,
    /// RMS in the RMS window.
    pub rms_dbfs: Level,
    /// Highest momentary loudness since reset.
    pub momentary_max_lufs: Level,
    /// Highest short-term loudness since reset.
    pub short_term_max_lufs: Level,
}

/// How many times of overs a reading can hold.
pub const MOST_OVER_TIMES: usize = 8;

/// When the latest overs began, in seconds since reset, oldest first.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct OverTimes {
    count: usize,
    times_s: [f64; MOST_OVER_TIMES],
}

impl OverTimes {
    /// Adds a time; the oldest goes when there is no space.
    pub fn push(&mut self, time_s: f64) {
        if self.count == MOST_OVER_TIMES {
            self.times_s.rotate_left(1);
            self.count -= 1;
        }
        self.times_s[self.count] = time_s;
        self.count += 1;
    }

    /// The times, oldest first.
    #[must_use]
    pub fn as_slice(&self) -> &[f64] {
        &self.times_s[..self.count]
    }
}

impl Serialize for OverTimes {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.as_slice())
    }
}
