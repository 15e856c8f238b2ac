//! The table of the sum test in a log line: the steps so far, and once the test is complete the
//! verdict, in the shapes of the audit of a recording.

use ledgerline_measure::sum_test::Schedule;
use ledgerline_measure::sum_test::Verdict;
use ledgerline_measure::sum_test::audit::live::{LiveShown, LiveState};
use ledgerline_measure::sum_test::{AlignmentRecord, Fault, Grade, StepRecord};
use serde::Serialize;

use super::bus::Conclusion;

/// The sum test at one moment.
#[derive(Debug, Clone, Serialize)]
pub struct SumTestRecord {
    /// Sample rate of the test in Hz; 0 before there is one.
    #[serde(skip)]
    pub rate_hz: u32,
    /// How far the test has come; `null` where it cannot play.
    pub state: Option<LiveState>,
    /// How often it has begun.
    pub run: u32,
    /// Where in the test it is, in seconds.
    pub position_s: f64,
    /// The steps that are measured.
    pub steps: Vec<StepRecord>,
    /// How the bus lies against the test, once that is known.
    pub alignment: Option<AlignmentRecord>,
    /// What is wrong, worst first.
    pub faults: Vec<Fault>,
    /// What was graded, once there is an answer.
    pub grades: Vec<Grade>,
    /// The answer, once there is one.
    pub verdict: Option<Verdict>,
    /// The answer, or how far the test has come, in words.
    pub sentence: String,
}

impl SumTestRecord {
    /// The record of what is shown, with what came of it. Allocates.
    #[must_use]
    pub fn new(
        shown: &LiveShown,
        conclusion: Option<&Conclusion>,
        refusal: Option<String>,
    ) -> Self {
        let rate_hz = Schedule::new(shown.rate_hz).map(|schedule| schedule.rate_hz());
        let mut record = Self {
            rate_hz: shown.rate_hz,
            state: refusal.is_none().then_some(shown.state),
            run: shown.run,
            position_s: rate_hz.map_or(0.0, |rate_hz| shown.position_frames as f64 / rate_hz),
            steps: Vec::new(),
            alignment: None,
            faults: Vec::new(),
            grades: Vec::new(),
            verdict: None,
            sentence: refusal.unwrap_or_else(|| shown.sentence()),
        };
        match conclusion.map(|conclusion| &conclusion.result) {
            Some(Ok(audit)) => {
                record.steps.clone_from(&audit.steps);
                record.alignment = Some(audit.alignment);
                record.faults.clone_from(&audit.faults);
                record.grades.clone_from(&audit.grades);
                record.verdict = Some(audit.verdict);
                record.sentence.clone_from(&audit.sentence);
            }
            Some(Err(error)) => {
                record.steps = steps(shown);
                record.verdict = Some(Verdict::CannotTell);
                record.sentence = error.to_string();
            }
            None => record.steps = steps(shown),
        }
        record
    }
}

/// The steps that are measured. Before there are any, nobody has to wait for what they are compared
/// with.
fn steps(shown: &LiveShown) -> Vec<StepRecord> {
    if shown.steps_done() == 0 { Vec::new() } else { shown.steps() }
}
