//! Makes the record of an audit, whether a recording was judged or the bus while it played.

use crate::level::Level;
use crate::sum_test::added;
use crate::sum_test::answer;
use crate::sum_test::faults::{self, Evidence};
use crate::sum_test::grades;
use crate::sum_test::record::{
    AlignmentRecord, Audit, Polarity, RecordingRecord, StepRecord, TestRecord,
};
use crate::sum_test::schedule::STEPS;

/// What an audit has measured.
pub(super) struct Judgement {
    pub(super) recording: RecordingRecord,
    pub(super) place: Place,
    /// The index of the step that changes are told against.
    pub(super) reference: Option<usize>,
    pub(super) steps: Vec<StepRecord>,
}

/// How what was heard lies against the test.
pub(super) struct Place {
    /// When the test begins, in seconds; negative if before what was heard.
    pub(super) delay_s: f64,
    /// From feed to bus, linear; negative where the polarity is inverted.
    pub(super) gain: f64,
    /// By how much it is longer than the test, in parts per million.
    pub(super) drift_ppm: f64,
}

impl Judgement {
    /// The record, with the faults and grades that the evidence shows. `level_dbfs` is the level at which the
    /// feeds were played; the gain is told against it.
    pub(super) fn record(self, evidence: &Evidence, level_dbfs: f64) -> Audit {
        let Self { recording, place, reference, steps } = self;
        let faults = faults::find(evidence);
        let grades = grades::find(evidence);
        let not_judged = answer::not_judged(evidence);
        let answer = answer::answer(evidence, &faults, &grades, &not_judged);
        Audit {
            schema: "ledgerline.audit/1",
            recording,
            alignment: AlignmentRecord {
                delay_s: place.delay_s,
                gain_db: Level::from_amplitude(place.gain).plus(-level_dbfs),
                drift_ppm: place.drift_ppm,
                polarity: if place.gain < 0.0 { Polarity::Inverted } else { Polarity::Same },
            },
            test: TestRecord {
                form: evidence.schedule.form(),
                slot_s: evidence.schedule.slot_s(),
                reference_step: reference.map(|step| STEPS[step].number),
            },
            steps,
            sums: added::sums(evidence),
            null: added::null(evidence),
            faults,
            limits: evidence.limits.record(evidence.schedule.rate_hz()),
            grades,
            not_judged,
            meter: None,
            verdict: answer.verdict,
            headline: answer.headline,
            sentence: answer.sentence,
            against: None,
        }
    }
}
