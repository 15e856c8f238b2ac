//! The figures of audits as rows of text: what tables on the terminal and on the page share.

use ledgerline_measure::Level;
use ledgerline_measure::sum_test::{Audit, Fault, Measure, Verdict};

use crate::numbers;

/// What the cells of steps mean.
pub(super) const LEGEND: &str =
    "Change against step 1 in dB, measured / expected; ! marks what lies outside the tolerance.";

/// The heading of a mixer's column.
fn name(audit: &Audit) -> String {
    let path = audit.recording.path.as_deref().unwrap_or("recording");
    let stem = std::path::Path::new(path).file_stem().map(|stem| stem.to_string_lossy());
    stem.map_or_else(|| path.to_owned(), std::borrow::Cow::into_owned)
}

fn verdict(audit: &Audit) -> &'static str {
    match audit.verdict {
        Verdict::SumsCorrectly => "sums correctly",
        Verdict::Faulty => "faulty",
        Verdict::CannotTell => "cannot tell",
    }
}

/// Rows of text: a heading and a cell a mixer.
#[must_use]
pub fn rows(audits: &[Audit]) -> Vec<(String, Vec<String>)> {
    let mut rows = vec![("mixer".to_owned(), audits.iter().map(name).collect())];
    let mut row = |heading: String, cell: &dyn Fn(&Audit) -> String| {
        rows.push((heading, audits.iter().map(cell).collect()));
    };
    row("verdict".to_owned(), &|audit| verdict(audit).to_owned());
    row("gain, dB".to_owned(), &|audit| format!("{:.2}", audit.alignment.gain_db));
    row("clock, ppm".to_owned(), &|audit| {
        numbers::signed(Level::from_db(audit.alignment.drift_ppm), 2)
    });
    row("floor, audible, dBFS".to_owned(), &|audit| {
        format!("{:.1}", audit.recording.floor_dbfs["audible"])
    });
    for index in 1..8 {
        for detector in ["rms", "sample_peak"] {
            let heading = format!("step {}, {}, dB", index + 1, detector.replace('_', " "));
            row(heading, &|audit| cell(&audit.steps[index].bands["whole"][detector]));
        }
    }
    row("faults".to_owned(), &|audit| {
        let codes: Vec<String> = audit.faults.iter().map(code).collect();
        if codes.is_empty() { "none".to_owned() } else { codes.join(", ") }
    });
    rows
}

/// A fault's code in words.
pub(super) fn code(fault: &Fault) -> String {
    let code = serde_json::to_value(fault.code).unwrap_or_default();
    code.as_str().unwrap_or_default().replace('_', " ")
}

/// A detector as it is spoken of.
pub(super) fn detector(name: &str) -> String {
    match name {
        "rms" => "RMS".into(),
        "needle" => "average needle".into(),
        "programme_1" => "programme peak I".into(),
        "programme_2" => "programme peak II".into(),
        "momentary" => "momentary loudness".into(),
        name => name.replace('_', " "),
    }
}

/// Measured, expected, and a mark where they are too far apart.
#[must_use]
pub fn cell(measure: &Measure) -> String {
    let mark = if measure.within { ' ' } else { '!' };
    let level = |level: Level| format!("{level:.2}");
    format!("{} / {}{mark}", level(measure.change_db), level(measure.expected_db))
}

/// A number that prints without a sign that only rounding gave it.
#[must_use]
pub fn steady(number: f64) -> f64 {
    if number.abs() < 0.005 { 0.0 } else { number }
}
