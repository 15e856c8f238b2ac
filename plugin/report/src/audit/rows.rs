//! The figures of audits as rows of text: what tables on the terminal and on the page share.

use ledgerline_measure::detector::Detector;
use ledgerline_measure::sum_test::{Audit, Grade, GradeCode, Measure, names};
use ledgerline_measure::words;

use crate::numbers;

/// What the cells of steps mean.
pub const LEGEND: &str = "Change against the reference step, step 1 wherever it was heard, in dB: \
                          measured / expected; ! marks what lies outside the tolerance.";

/// Rows of text: a heading and a cell a mixer.
#[must_use]
pub fn rows(audits: &[Audit]) -> Vec<(String, Vec<String>)> {
    let mut rows = vec![("mixer".to_owned(), names(audits))];
    let mut row = |heading: String, cell: &dyn Fn(&Audit) -> String| {
        rows.push((heading, audits.iter().map(cell).collect()));
    };
    row("verdict".to_owned(), &|audit| audit.verdict.word().to_owned());
    row("gain, dB".to_owned(), &|audit| numbers::difference(audit.alignment.gain_db));
    row("clock, ppm".to_owned(), &|audit| words::signed(audit.alignment.drift_ppm, 2));
    row("floor, audible, dBFS".to_owned(), &|audit| {
        format!("{:.1}", audit.recording.floor_dbfs["audible"])
    });
    row("test".to_owned(), &|audit| test(audit));
    row("reference".to_owned(), &|audit| {
        audit.test.reference_step.map_or_else(|| "–".to_owned(), |step| format!("step {step}"))
    });
    for number in 2..=8 {
        for detector in [Detector::Rms, Detector::SamplePeak] {
            let heading = format!("step {number}, {}, dB", detector.word());
            row(heading, &|audit| {
                let step = audit.steps.iter().find(|step| step.step == number);
                step.map_or_else(
                    || "–".to_owned(),
                    |step| cell(&step.bands["whole"][detector.name()]),
                )
            });
        }
    }
    for code in GradeCode::ALL {
        row(code.word().to_owned(), &|audit| {
            let grade = audit.grades.iter().find(|grade| grade.code == code);
            grade.map_or_else(|| "–".to_owned(), self::grade)
        });
    }
    row("faults".to_owned(), &|audit| {
        let faults: Vec<&str> = audit.faults.iter().map(|fault| fault.code.word()).collect();
        if faults.is_empty() { "none".to_owned() } else { faults.join(", ") }
    });
    rows
}

/// The form and the pace of the test.
#[must_use]
pub fn test(audit: &Audit) -> String {
    let slot_s = audit.test.slot_s;
    format!("{}, {} s a step", audit.test.form.word(), words::fixed(slot_s, 2))
}

/// A grade's figure, and a mark where it lies outside its limit.
#[must_use]
pub fn grade(grade: &Grade) -> String {
    let mark = if grade.within { "" } else { "!" };
    format!("{} {}{mark}", words::signed(grade.value, 2), grade.unit)
}

/// How far a grade's figure may be off, where that is known.
#[must_use]
pub fn uncertainty(grade: &Grade) -> String {
    if grade.uncertainty > 0.0 { words::uncertainty(grade.uncertainty) } else { "–".to_owned() }
}

/// What differences were graded against.
#[must_use]
pub fn limits(audit: &Audit) -> String {
    let limits = audit.limits;
    format!(
        "{}: {} dB, {} samples ({} µs)",
        limits.name,
        words::fixed(limits.level_db, 2),
        words::fixed(limits.delay_samples, 2),
        words::fixed(1e6 * limits.delay_s, 1)
    )
}

/// Measured, expected, and a mark where they are too far apart.
#[must_use]
pub fn cell(measure: &Measure) -> String {
    let mark = if measure.within { ' ' } else { '!' };
    let [change, expected] = [measure.change_db, measure.expected_db].map(numbers::difference);
    format!("{change} / {expected}{mark}")
}
