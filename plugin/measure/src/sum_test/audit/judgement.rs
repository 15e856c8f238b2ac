//! Makes the record of an audit, whether a recording was judged or the bus while it played.

use crate::level::Level;
use crate::sum_test::faults::{self, Evidence};
use crate::sum_test::record::{AlignmentRecord, Audit, Polarity, RecordingRecord, StepRecord};

/// What an audit has measured.
pub(super) struct Judgement {
    pub(super) recording: RecordingRecord,
    pub(super) place: Place,
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
    /// The record, with the faults that the evidence shows. `level_dbfs` is the level at which the
    /// feeds were played; the gain is told against it.
    pub(super) fn record(self, evidence: &Evidence, level_dbfs: f64) -> Audit {
        let Self { recording, place, steps } = self;
        let faults = faults::find(evidence);
        let (verdict, sentence) = faults::judge(&faults, evidence);
        Audit {
            schema: "ledgerline.audit/1",
            recording,
            alignment: AlignmentRecord {
                delay_s: place.delay_s,
                gain_db: Level::from_amplitude(place.gain).plus(-level_dbfs),
                drift_ppm: place.drift_ppm,
                polarity: if place.gain < 0.0 { Polarity::Inverted } else { Polarity::Same },
            },
            steps,
            faults,
            meter: None,
            verdict,
            sentence,
        }
    }
}
