//! What is wrong with a mixer: the rules, and the answer that follows.
//!
//! Each rule compares a fit, not a single reading: a gain or a delay found over a whole step of
//! noise that is known to the sample.

mod rules;

use std::collections::BTreeMap;

use serde::Serialize;

use super::audit::{StepRecord, Verdict};
use super::path::Paths;
use super::schedule::Schedule;
use super::statistics::mismatch_tolerance_db;

/// Kinds of fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum FaultCode {
    /// One feed cannot be heard.
    MissingChannel,
    /// Left carries one feed and right the other.
    NotSummed,
    /// As above, and the feeds are on each other's channels.
    FeedsSwapped,
    /// One channel turns the polarity and the other does not.
    PolarityTurned,
    /// The loudest samples come out too low.
    Clipping,
    /// Both together do not make what they make apart.
    SumRatio,
    /// The channels' gains differ.
    ChannelMismatch,
    /// One channel is later than the other.
    PathDelay,
    /// The null is not as deep as gains and delays would have it.
    NullDepth,
    /// The top of the band is missing.
    BandLimit,
}

impl FaultCode {
    /// Whether the fault makes the sum wrong. A band limit alone does not.
    #[must_use]
    pub fn spoils_sum(self) -> bool {
        self != Self::BandLimit
    }
}

/// One fault.
#[derive(Debug, Clone, Serialize)]
pub struct Fault {
    /// Its kind.
    pub code: FaultCode,
    /// A plain sentence.
    pub sentence: String,
    /// The figures behind it; each key ends in its unit.
    pub numbers: BTreeMap<&'static str, f64>,
}

/// What the rules look at.
pub(super) struct Evidence<'a> {
    pub schedule: &'a Schedule,
    pub paths: &'a Paths,
    pub steps: &'a [StepRecord],
    /// The largest sample in each step, linear.
    pub largest: Vec<f64>,
    /// Gains of feed 1 and feed 2 on left and right, of a stereo recording.
    pub halves: Option<[[f64; 2]; 2]>,
}

/// Every fault, worst first.
pub(super) fn find(evidence: &Evidence) -> Vec<Fault> {
    let mut faults: Vec<Fault> = rules::RULES.iter().filter_map(|rule| rule(evidence)).collect();
    let has = |faults: &[Fault], code| faults.iter().any(|fault| fault.code == code);
    // A bus that does not sum at all has no ratio, match or null to speak of.
    if has(&faults, FaultCode::NotSummed) || has(&faults, FaultCode::FeedsSwapped) {
        faults.retain(|fault| {
            matches!(
                fault.code,
                FaultCode::NotSummed | FaultCode::FeedsSwapped | FaultCode::BandLimit
            )
        });
    }
    faults.sort_by_key(|fault| fault.code);
    faults
}

/// The verdict and its sentence.
pub(super) fn judge(faults: &[Fault], evidence: &Evidence) -> (Verdict, String) {
    let spoiling: Vec<&str> = faults
        .iter()
        .filter(|fault| fault.code.spoils_sum())
        .map(|fault| fault.sentence.as_str())
        .collect();
    if !spoiling.is_empty() {
        return (Verdict::Faulty, spoiling.join(" "));
    }
    if let Some(sentence) = why_uncertain(evidence) {
        return (Verdict::CannotTell, sentence);
    }
    let mut sentence = "The mixer sums correctly: the same noise on both channels adds 6.02 dB, \
                        independent noises add 3.01 dB, and opposite polarities cancel."
        .to_owned();
    for fault in faults {
        sentence.push(' ');
        sentence.push_str(&fault.sentence);
    }
    (Verdict::SumsCorrectly, sentence)
}

/// Steps that are judged by energy: with both feeds as noise, the null apart.
const JUDGED_STEPS: [usize; 5] = [1, 2, 4, 5, 6];

fn why_uncertain(evidence: &Evidence) -> Option<String> {
    let tolerance_db = mismatch_tolerance_db(evidence.schedule.rate_hz());
    let error_db = evidence.paths.gain_error_db;
    if error_db * 1.96 > tolerance_db {
        return Some(format!(
            "The noise in the recording is too strong to tell: gains are certain only within \
             {:.2} dB. Record again with less of it.",
            error_db * 1.96
        ));
    }
    let off = JUDGED_STEPS.into_iter().find(|&step| {
        evidence.steps[step].bands["audible"].get("rms").is_some_and(|measure| !measure.within)
    })?;
    let measure = evidence.steps[off].bands["audible"]["rms"];
    Some(format!(
        "In step {} the level changed by {:.2} dB and not by {:.2} dB, though the feeds add as \
         they should: something else is in the recording. Record again without it.",
        off + 1,
        measure.change_db,
        measure.expected_db
    ))
}
