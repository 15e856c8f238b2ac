//! What is said of files that could not be laid over each other, and phrases that recur.

use super::{Apart, Said, said};
use crate::compare::finding::Code;
use crate::compare::record::Comparison;
use crate::verdict::Severity;
use crate::words::{counted, fixed, signed};

/// Places that a sentence names.
pub(super) const MOST_NAMED: usize = 3;
/// Speed, as a ratio from none, that is told where only courses of level say so: they find 0.2 % where it is
/// 0.4 %.
const LEAST_SPEED: f64 = 0.01;

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
        Apart::Roughly { speed, .. } if (speed - 1.0).abs() >= LEAST_SPEED => {
            let percent = (speed - 1.0) * 100.0;
            said(
                Code::Speed,
                Severity::Fault,
                "",
                format!(
                    "The export is the same programme at another speed, about {} %, and its samples \
                     are not the mix's: its pitch was probably kept. What else was done cannot be told.",
                    signed(percent, 1)
                ),
                &[("speed_percent", percent), ("pitch_kept", 1.0)],
            )
        }
        Apart::Roughly { likeness, .. } => said(
            Code::Unexplained,
            Severity::Caution,
            "",
            "The levels of both files take the same course, but their samples cannot be laid over each \
             other: the export may be another take, or its time or pitch was worked on. What was done \
             cannot be told.",
            &[("likeness", likeness)],
        ),
        Apart::Shared { share } => said(
            Code::Unexplained,
            Severity::Fault,
            "",
            format!(
                "The two files share sound, but only {} of the export's power comes from the mix: another \
                 mix, or another programme with the same parts in it. What was done cannot be told.",
                crate::words::share(Some(share), 0)
            ),
            &[("share", share)],
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

/// The first few of many, and how many more there are: "a; b; c, and 2 more".
pub(super) fn first_few(named: &[String]) -> String {
    let told = named[..named.len().min(MOST_NAMED)].join("; ");
    match named.len().saturating_sub(MOST_NAMED) {
        0 => told,
        more => format!("{told}, and {more} more"),
    }
}
