//! The finding: four pairs of noises, twenty seconds each, and what their sum reads. Peaks of
//! independent noises add like those of identical ones; their energy does not.

use ledgerline_measure::verdict::{Code, Fact, Finding, Severity};
use ledgerline_measure::{Reading, Settings, TruePeakFilter, View};
use ledgerline_tests::readings::{Checks, read, read_with};
use ledgerline_tests::signals::finding::Row;

/// Closed forms: the peak of uniform noise is its bound, its RMS lies 20·log10√3 lower; peaks of
/// bounded noises add to the sum of the bounds, powers of independent ones to the sum of powers.
const CLOSED_FORM: &str = "closed forms of uniform noise with a peak of −10 dBFS";
/// White noise cut from 24 to 20 kHz: 10·log10(20/24).
const CUT_DB: f64 = -0.79;

struct Expected {
    row: Row,
    sample_peak_dbfs: f64,
    rms_dbfs: f64,
    /// An extreme value of bell-shaped noise, simulated once: it varies by some tenths of a decibel.
    /// White noise reaches up to half the sample rate, where every interpolator rolls off in its
    /// own way, so the true peak is that of the filter which ITU-R BS.1770 prints.
    printed_true_peak_dbtp: f64,
    /// Mean of the largest sample after a brick wall at 20 kHz, and three standard deviations, over
    /// sixty noises of 20 s.
    audible_peak_dbfs: (f64, f64),
}

const ROWS: [Expected; 4] = [
    Expected {
        row: Row::Alone,
        sample_peak_dbfs: -10.0,
        rms_dbfs: -14.77,
        printed_true_peak_dbtp: -4.8,
        audible_peak_dbfs: (-5.7, 0.6),
    },
    Expected {
        row: Row::Identical,
        sample_peak_dbfs: -3.98,
        rms_dbfs: -8.75,
        printed_true_peak_dbtp: 1.2,
        audible_peak_dbfs: (0.3, 0.6),
    },
    Expected {
        row: Row::Independent,
        sample_peak_dbfs: -3.98,
        rms_dbfs: -11.76,
        printed_true_peak_dbtp: -0.5,
        audible_peak_dbfs: (-1.4, 0.8),
    },
    Expected {
        row: Row::Delayed,
        sample_peak_dbfs: -3.98,
        rms_dbfs: -11.76,
        printed_true_peak_dbtp: -0.4,
        audible_peak_dbfs: (-1.35, 0.8),
    },
];

#[test]
fn all_four_rows_read_their_closed_forms() {
    for expected in &ROWS {
        let signal = expected.row.play();
        let reading = read(&signal);
        let (whole, audible) = (&reading.whole.sum, &reading.audible.sum);
        let mut checks = Checks::of(expected.row.name(), CLOSED_FORM);
        checks.level("sample peak, whole", whole.sample_peak_dbfs, expected.sample_peak_dbfs, 0.1);
        checks.level("RMS, whole", whole.rms_dbfs, expected.rms_dbfs, 0.1);
        checks.level("RMS, audible", audible.rms_dbfs, expected.rms_dbfs + CUT_DB, 0.1);
        let printed = Settings { true_peak: TruePeakFilter::Bs1770, ..Settings::default() };
        let printed = read_with(&signal, printed, &View::default()).whole.sum.true_peak_dbtp;
        checks.level("printed true peak, whole", printed, expected.printed_true_peak_dbtp, 0.5);
        // Band-limited interpolation finds more, and never more than the ideal one: on these very
        // noises that reads up to 2.0 dB above the printed filter.
        let more = whole.true_peak_dbtp.minus(printed);
        checks.level("true peak above the printed filter's", more, 1.0, 1.0);
        let audible_peak = audible.sample_peak_dbfs;
        let (mean_dbfs, spread_db) = expected.audible_peak_dbfs;
        checks.level("sample peak, audible", audible_peak, mean_dbfs, spread_db);
    }
}

fn finding(reading: &Reading, code: Code) -> Option<Finding> {
    reading.findings.as_slice().iter().find(|finding| finding.code == code).copied()
}

#[test]
fn energy_falls_3_db_between_identical_and_independent_noises_and_the_held_peak_does_not() {
    let [identical, independent] = [Row::Identical, Row::Independent].map(|row| read(&row.play()));
    let mut checks = Checks::of("identical against independent noises", CLOSED_FORM);
    let (before, after) = (&identical.whole, &independent.whole);
    let fall = after.sum.rms_dbfs.minus(before.sum.rms_dbfs);
    checks.level("RMS", fall, -3.01, 0.05);
    let fall = after.sum.sample_peak_dbfs.minus(before.sum.sample_peak_dbfs);
    checks.level("held sample peak", fall, 0.0, 0.05);
    let loudness = after.sum.integrated_lufs.minus(before.sum.integrated_lufs);
    checks.level("integrated loudness", loudness, -3.01, 0.05);
    for (name, reading, energy_db) in
        [("identical", &identical, 3.01), ("independent", &independent, 0.0)]
    {
        let halves = &reading.whole.halves;
        checks.level(&format!("{name}, energy"), halves.sum_gain_energy_db, energy_db, 0.05);
        checks.level(&format!("{name}, peak"), halves.sum_gain_peak_db, 3.01, 0.05);
    }
}

#[test]
fn the_verdict_explains_the_independent_rows_and_no_other() {
    for (row, misleads) in [
        (Row::Alone, false),
        (Row::Identical, false),
        (Row::Independent, true),
        (Row::Delayed, true),
    ] {
        let reading = read(&row.play());
        let found = finding(&reading, Code::PeaksMislead);
        let mut checks = Checks::of(row.name(), "the finding");
        let codes: Vec<Code> = reading.findings.as_slice().iter().map(|f| f.code).collect();
        let expected = format!("peaks that mislead: {misleads}");
        checks.that(found.is_some() == misleads, &expected, codes);
        let Some(found) = found else { continue };
        checks.that(found.severity == Severity::Note, "ordinary stereo adds so", found.severity);
        let Fact::PeaksMislead(numbers) = found.fact else { unreachable!("found by its code") };
        checks.number("energy behind it", Some(numbers.sum_gain_energy_db), 0.0, 0.05);
        checks.number("peak behind it", Some(numbers.sum_gain_peak_db), 3.01, 0.05);
        let sentence = found.sentence();
        let explains = sentence.contains("peak") && sentence.contains("dB");
        checks.that(explains, "a sentence on peaks with figures in dB", sentence);
    }
}
