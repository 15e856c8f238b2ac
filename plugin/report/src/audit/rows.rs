//! The figures of audits as rows of text: what tables on the terminal and on the page share.

use ledgerline_measure::Level;
use ledgerline_measure::sum_test::audit::{Audit, Measure, Verdict};

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
    row("clock, ppm".to_owned(), &|audit| format!("{:+.2}", steady(audit.alignment.drift_ppm)));
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
        let codes: Vec<String> = audit
            .faults
            .iter()
            .map(|fault| serde_json::to_value(fault.code).map_or(String::new(), plain))
            .collect();
        if codes.is_empty() { "none".to_owned() } else { codes.join(", ") }
    });
    rows
}

fn plain(value: serde_json::Value) -> String {
    value.as_str().unwrap_or_default().replace('_', " ")
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
