//! The figures of audits as rows of text: what tables on the terminal and on the page share.

use ledgerline_measure::detector::Detector;
use ledgerline_measure::sum_test::{Audit, Measure};
use ledgerline_measure::words;

use crate::{numbers, page};

/// What the cells of steps mean.
pub const LEGEND: &str =
    "Change against step 1 in dB, measured / expected; ! marks what lies outside the tolerance.";

/// The heading of a mixer's column.
fn name(audit: &Audit) -> String {
    let path = audit.recording.path.as_deref().unwrap_or("recording");
    let name = page::file_name(path);
    name.rsplit_once('.').map_or(name, |(stem, _)| stem).to_owned()
}

/// Rows of text: a heading and a cell a mixer.
#[must_use]
pub fn rows(audits: &[Audit]) -> Vec<(String, Vec<String>)> {
    let mut rows = vec![("mixer".to_owned(), audits.iter().map(name).collect())];
    let mut row = |heading: String, cell: &dyn Fn(&Audit) -> String| {
        rows.push((heading, audits.iter().map(cell).collect()));
    };
    row("verdict".to_owned(), &|audit| audit.verdict.word().to_owned());
    row("gain, dB".to_owned(), &|audit| numbers::difference(audit.alignment.gain_db));
    row("clock, ppm".to_owned(), &|audit| words::signed(audit.alignment.drift_ppm, 2));
    row("floor, audible, dBFS".to_owned(), &|audit| {
        format!("{:.1}", audit.recording.floor_dbfs["audible"])
    });
    for index in 1..8 {
        for detector in [Detector::Rms, Detector::SamplePeak] {
            let heading = format!("step {}, {}, dB", index + 1, detector.word());
            row(heading, &|audit| cell(&audit.steps[index].bands["whole"][detector.name()]));
        }
    }
    row("faults".to_owned(), &|audit| {
        let faults: Vec<&str> = audit.faults.iter().map(|fault| fault.code.word()).collect();
        if faults.is_empty() { "none".to_owned() } else { faults.join(", ") }
    });
    rows
}

/// Measured, expected, and a mark where they are too far apart.
#[must_use]
pub fn cell(measure: &Measure) -> String {
    let mark = if measure.within { ' ' } else { '!' };
    let [change, expected] = [measure.change_db, measure.expected_db].map(numbers::difference);
    format!("{change} / {expected}{mark}")
}
