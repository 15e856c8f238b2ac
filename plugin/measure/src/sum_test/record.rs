//! The audit as a record: what is written as JSON, and what reports are made of.

use std::collections::BTreeMap;

use serde::Serialize;

use super::added::{NullRecord, SumRecord};
use super::against::Against;
use super::fault::Fault;
use super::grade::{Grade, LimitsRecord};
use super::identification::Identification;
use super::schedule::Form;
use crate::level::Level;

/// What came of an audit.
#[derive(Debug, Clone, Serialize)]
pub struct Audit {
    /// Names this shape of record.
    pub schema: &'static str,
    /// What was judged.
    pub recording: RecordingRecord,
    /// Which test it holds.
    pub test: TestRecord,
    /// How the recording lies against the test.
    pub alignment: AlignmentRecord,
    /// What every detector read in every step.
    pub steps: Vec<StepRecord>,
    /// How each sum comes out against its parts, added: those that could be compared.
    pub sums: Vec<SumRecord>,
    /// What opposite polarities leave, if it was heard.
    pub null: Option<NullRecord>,
    /// What is wrong, worst first.
    pub faults: Vec<Fault>,
    /// What differences between the channels were graded against.
    pub limits: LimitsRecord,
    /// What was graded: no faults of addition, but what differs from an ideal mixer.
    pub grades: Vec<Grade>,
    /// What the recording does not tell, in sentences.
    pub not_judged: Vec<String>,
    /// Which meter shows what was typed in, if anything was.
    pub meter: Option<Identification>,
    /// The answer.
    pub verdict: Verdict,
    /// The answer in one sentence.
    pub headline: String,
    /// The answer in words, with all that was found and what to do about it.
    pub sentence: String,
    /// How it compares with the recording that others are held against, if it was.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub against: Option<Against>,
}

impl Audit {
    /// Whether everything that was graded lies within its limit.
    #[must_use]
    pub fn is_within_limits(&self) -> bool {
        self.grades.iter().all(|grade| grade.within)
    }
}

/// Which test a recording holds.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct TestRecord {
    /// Which steps were played.
    pub form: Form,
    /// From one step's beginning to the next, in seconds.
    pub slot_s: f64,
    /// The number of the step that changes are told against: step 1 wherever it is there.
    pub reference_step: Option<usize>,
}

/// The recording.
#[derive(Debug, Clone, Serialize)]
pub struct RecordingRecord {
    /// Where it came from, if from a file.
    pub path: Option<String>,
    /// In Hz.
    pub sample_rate_hz: u32,
    /// One or two.
    pub channels: usize,
    /// In seconds.
    pub duration_s: f64,
    /// RMS of the silence before the first step, by band, in dBFS.
    pub floor_dbfs: BTreeMap<&'static str, Level>,
}

/// How the recording lies against the test.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct AlignmentRecord {
    /// When the test begins in the recording, in seconds; negative if before it.
    pub delay_s: f64,
    /// From feed 1 to the recording, in dB (feed 2 where feed 1 is missing).
    pub gain_db: Level,
    /// By how much the recording is longer than the test, in parts per million.
    pub drift_ppm: f64,
    /// Of feed 1 (feed 2 where feed 1 is missing).
    pub polarity: Polarity,
}

/// Whether a positive sample comes out positive.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Polarity {
    /// It does.
    Same,
    /// It comes out negative.
    Inverted,
}

impl Polarity {
    /// What became of it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Same => "kept",
            Self::Inverted => "inverted",
        }
    }
}

/// One step.
#[derive(Debug, Clone, Serialize)]
pub struct StepRecord {
    /// Its number, from 1.
    pub step: usize,
    /// A few words.
    pub name: &'static str,
    /// Where it begins in the recording, in seconds.
    pub start_s: f64,
    /// Where it ends.
    pub end_s: f64,
    /// By band, by detector.
    pub bands: BTreeMap<&'static str, BTreeMap<&'static str, Measure>>,
}

/// What one detector read.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Measure {
    /// In dBFS, dBTP or LUFS.
    pub level_dbfs: Level,
    /// Against the reference step.
    pub change_db: Level,
    /// What an ideal sum changes.
    pub expected_db: Level,
    /// How far the two may lie apart; none in the null, where anything deep enough will do.
    pub tolerance_db: Level,
    /// Whether they lie no farther apart.
    pub within: bool,
}

/// The answer of an audit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// The bus adds as it should.
    SumsCorrectly,
    /// It does not, or something else is wrong.
    Faulty,
    /// The recording does not allow an answer.
    CannotTell,
}

impl Verdict {
    /// The answer in a word or two.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::SumsCorrectly => "Sums correctly",
            Self::Faulty => "Faulty",
            Self::CannotTell => "Cannot tell",
        }
    }
}
