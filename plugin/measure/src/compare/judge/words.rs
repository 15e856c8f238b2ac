//! How numbers and findings are put into words.

use super::{Apart, Said, said};
use crate::compare::finding::Code;
use crate::compare::record::Comparison;
use crate::level::Level;
use crate::verdict::Severity;

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

/// A level or a change with a true minus sign, and a plus where it rises.
pub(super) fn signed(db: f64, decimals: usize) -> String {
    let text = Level::from_db(db).to_string_with(decimals);
    if db > 0.0 && text.bytes().any(|b| (b'1'..=b'9').contains(&b)) {
        format!("+{text}")
    } else {
        text
    }
}

/// A level with a true minus sign.
pub(super) fn level(db: Level, decimals: usize) -> String {
    db.to_string_with(decimals)
}

trait WithDecimals {
    fn to_string_with(&self, decimals: usize) -> String;
}

impl WithDecimals for Level {
    fn to_string_with(&self, decimals: usize) -> String {
        format!("{self:.decimals$}")
    }
}

/// "1.00 dB softer" or "louder".
pub(super) fn softer(db: f64) -> String {
    let word = if db < 0.0 { "softer" } else { "louder" };
    format!("{:.2} dB {word}", db.abs())
}

/// A frequency in the unit that it is spoken of in.
pub(super) fn frequency(hz: f64) -> String {
    if hz >= 1000.0 { format!("{:.1} kHz", hz / 1000.0) } else { format!("{hz:.0} Hz") }
}

/// A length of time in the unit that it is spoken of in.
pub(super) fn length(s: f64) -> String {
    match s.abs() {
        s if s < 0.0995 => format!("{:.2} ms", s * 1e3),
        s if s < 99.95 => format!("{s:.3} s"),
        s => format!("{s:.1} s"),
    }
}

/// A moment in a file: minutes, seconds and thousandths.
pub(super) fn moment(s: f64) -> String {
    // Rounded first, so that no 60.000 s can come out.
    let thousandths = (s.max(0.0) * 1e3).round() as u64;
    let (minutes, rest) = (thousandths / 60_000, thousandths % 60_000);
    format!("{minutes}:{:02}.{:03}", rest / 1_000, rest % 1_000)
}

/// "1 over", "3 overs".
pub(super) fn counted(count: u64, one: &str, many: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {many}") }
}

/// "a", "a and b", "a, b and c".
pub(super) fn list(parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
