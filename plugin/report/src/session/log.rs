//! What the log of an instance says, as plain data.

use ledgerline_measure::entries::OpenedBy;
use ledgerline_measure::verdict::Severity;
use ledgerline_measure::{HistoryRow, Level, Target};

use crate::utc::Utc;

/// The log of one instance, summed up.
#[derive(Debug, Clone)]
pub struct InstanceLog {
    /// Where it is, or what else it came from.
    pub path: String,
    /// What is wrong with it, in sentences.
    pub warnings: Vec<String>,
    /// When the first second that it tells of began.
    pub from: Utc,
    /// When the last one ended.
    pub to: Utc,
    /// Where the host's transport stood in the first and in the last row that says so, in seconds.
    pub host_s: Option<(f64, f64)>,
    /// Seconds that were measured while it was written.
    pub measured_s: f64,
    /// How often nothing was measured for a while.
    pub pauses: u64,
    /// Sample rate, in Hz, where a full reading says so.
    pub sample_rate_hz: Option<f64>,
    /// The highest peak allowed, in the latest full reading.
    pub ceiling_db: Option<f64>,
    /// The level aimed at, in the latest full reading.
    pub target: Option<Target>,
    /// Length of the sample-peak window in seconds, in the latest full reading.
    pub peak_window_s: Option<f64>,
    /// The course over time, a row a second; `time_s` is the clock's ([`Utc::unix_s`]). Where seconds
    /// are missing stands a row without levels.
    pub rows: Vec<HistoryRow>,
    /// The bus in the whole band.
    pub whole: Highest,
    /// The bus in the audible band.
    pub audible: Highest,
    /// The least room under the ceiling, and when it was first so little.
    pub room: Least,
    /// The least audible room, and when it was first so little.
    pub audible_room: Least,
    /// Overs, oldest first.
    pub overs: Vec<Overs>,
    /// Overs that the first row already held: from before the log began.
    pub overs_before: u64,
    /// What the whole band held and the audible band did not.
    pub hidden: HiddenContent,
    /// What lies between resets, oldest first.
    pub stretches: Vec<Stretch>,
    /// Entries, oldest first.
    pub entries: Vec<Entry>,
    /// Findings of the full readings, the most severe first, each kind once.
    pub findings: Vec<LoggedFinding>,
}

/// The highest readings of a bus in one band, whatever was reset between them.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Highest {
    /// Largest magnitude of a sample.
    pub sample_peak_dbfs: Level,
    /// Largest magnitude of the waveform between samples.
    pub true_peak_dbtp: Level,
    /// Highest loudness of 400 ms. Where no full reading tells, the highest of one a second.
    pub momentary_max_lufs: Level,
    /// Highest loudness of 3 s, likewise.
    pub short_term_max_lufs: Level,
    /// Loudness range of the rows' short-term loudness, one value a second.
    pub lra_lu: Level,
}

/// The least of something, and when it was first so little.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Least {
    /// How little, in dB.
    pub db: Level,
    /// Since when.
    pub at: Option<Utc>,
}

/// Overs within a second.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Overs {
    /// When that second ended.
    pub at: Utc,
    /// Where the host's transport stood then, in seconds.
    pub host_s: Option<f64>,
    /// How many.
    pub count: u64,
}

/// What the whole band held and the audible band did not.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct HiddenContent {
    /// RMS level above the audible band, over all stretches.
    pub above_dbfs: Level,
    /// RMS level below it, DC apart, over all stretches.
    pub below_dbfs: Level,
    /// Steady tones of the full readings, the strongest first; each where it was strongest.
    pub tones: Vec<HiddenTone>,
}

/// A steady tone outside the audible band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HiddenTone {
    /// Frequency.
    pub hz: f64,
    /// RMS level since the reset before.
    pub dbfs: Level,
    /// When that was read.
    pub at: Utc,
}

/// What lies between two resets, or between one and an end of the log.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// When its first second in the log began.
    pub from: Utc,
    /// When its last one ended.
    pub to: Utc,
    /// Seconds since reset at its end.
    pub time_s: f64,
    /// Integrated loudness of the bus since reset, whole band.
    pub whole_lufs: Level,
    /// The same of the audible band.
    pub audible_lufs: Level,
    /// RMS level above the audible band since reset.
    pub above_dbfs: Level,
    /// RMS level below it since reset.
    pub below_dbfs: Level,
}

/// A stretch of the bus between two changes or marks.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Its number.
    pub number: u64,
    /// The record's key for what began it.
    pub opened_by: String,
    /// When it began.
    pub from: Utc,
    /// When it ended.
    pub to: Utc,
    /// Where the host's transport stood at both, in seconds.
    pub host_s: [Option<f64>; 2],
    /// Whether its level was steady.
    pub steady: bool,
    /// Whether something of it was lost.
    pub incomplete: bool,
    /// Largest true peak of the bus, whole band.
    pub whole_dbtp: Level,
    /// The same of the audible band.
    pub audible_dbtp: Level,
    /// RMS of the bus, whole band.
    pub whole_dbfs: Level,
    /// The same of the audible band.
    pub audible_dbfs: Level,
    /// What changed from the entry before, if that is told.
    pub change: Option<Change>,
}

impl Entry {
    /// What began it, in words; most keys are words themselves.
    #[must_use]
    pub fn opening(&self) -> &str {
        match self.opened_by.as_str() {
            "step" => OpenedBy::Step.word(),
            "bypass" => OpenedBy::Bypass.word(),
            other => other,
        }
    }

    /// Whether the user set the mark that it begins at.
    #[must_use]
    pub fn is_marked(&self) -> bool {
        self.opened_by == OpenedBy::Mark.word()
    }
}

/// What changed from one entry to the next.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// The record's key for what happened.
    pub what: String,
    /// Keys of what else the signal allows.
    pub or: Vec<String>,
    /// Meters that show it: `DETECTOR/band`.
    pub shown_by: Vec<String>,
    /// Meters that do not.
    pub not_shown_by: Vec<String>,
    /// Delay in milliseconds and level in dB of a late copy.
    pub copy: Option<(f64, Level)>,
    /// All of it in a sentence.
    pub sentence: String,
}

/// A finding of a full reading.
#[derive(Debug, Clone, PartialEq)]
pub struct LoggedFinding {
    /// Its key in records.
    pub code: String,
    /// How much it matters.
    pub severity: Severity,
    /// In words.
    pub sentence: String,
    /// When it was first read so.
    pub at: Utc,
}
