//! What is said of files that could not be laid over each other, and phrases that recur.

use super::{Apart, Said, said};
use crate::compare::finding::Code;
use crate::compare::record::Comparison;
use crate::verdict::Severity;
use crate::words::{counted, fixed};

/// What is said of files that could not be laid over each other.
pub(super) fn apart(record: &Comparison, why: Apart) -> Said {
    let numbers = [("mix_s", record.mix.duration_s), ("export_s", record.export.duration_s)];
    match why {
        Apart::Silent => {
            let (severity, sentence) = match (record.mix.silent, record.export.silent) {
                (true, true) => {
                    (Severity::Caution, "Both files are silent: there is nothing to compare.")
                }
                (false, _) => (
                    Severity::Fault,
                    "The export is silent: every sample is zero, and the mix is not.",
                ),
                (true, false) => (
                    Severity::Fault,
                    "The mix is silent, and the export is not: these are not the same programme.",
                ),
            };
            said(Code::Silence, severity, "", sentence, &numbers)
        }
        Apart::TooShort => said(
            Code::TooShort,
            Severity::Caution,
            "",
            "There is too little sound to lay one file over the other.",
            &numbers,
        ),
        Apart::NotTheSame => said(
            Code::NotTheSame,
            Severity::Fault,
            "",
            "These are not the same programme: nowhere does the export agree with the mix.",
            &numbers,
        ),
    }
}

/// "1.00 dB lower" or "higher".
pub(super) fn moved(db: f64) -> String {
    format!("{} dB {}", fixed(db.abs(), 2), if db < 0.0 { "lower" } else { "higher" })
}

/// Samples, which may be parts of one: "3 samples", "0.25 samples".
pub(super) fn samples(count: f64) -> String {
    if count.fract() == 0.0 {
        counted(count.abs() as u64, "sample", "samples")
    } else {
        format!("{} samples", fixed(count.abs(), 2))
    }
}
