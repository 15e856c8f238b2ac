//! An audit for the terminal, no wider than 100 columns.

use std::io::{Result, Write};
use std::path::Path;

use ledgerline_measure::detector::Detector;
use ledgerline_measure::sum_test::Audit;
use ledgerline_measure::sum_test::{BAND_WORDS, BANDS};
use ledgerline_measure::words;
use ledgerline_report::audit::rows::{LEGEND, cell, grade, limits, uncertainty};
use ledgerline_report::audit::{said, side_by_side};

use super::table;
use crate::colour::HEADING;
use crate::text::{self, Table};

/// Detectors that the short tables show.
const SHORT: [Detector; 3] = [Detector::Rms, Detector::SamplePeak, Detector::TruePeak];

/// How every recording but the first compares with the first, and which ones were refused.
pub(super) fn print_comparison(
    audits: &[Audit],
    refused: &[&Path],
    out: &mut dyn Write,
) -> Result<()> {
    for against in audits.iter().filter_map(|audit| audit.against.as_ref()) {
        text::print_paragraph(&against.sentence, out)?;
    }
    for path in refused {
        let name = path.file_stem().unwrap_or(path.as_os_str()).to_string_lossy();
        text::print_paragraph(&format!("Not compared, since it cannot be judged: {name}."), out)?;
    }
    let sums = side_by_side::rows(audits);
    if !sums.is_empty() {
        writeln!(out)?;
        table::print(&sums, out)?;
        writeln!(out)?;
        text::print_paragraph(side_by_side::LEGEND, out)?;
    }
    writeln!(out)
}

/// One recording: the answer, what to do, the grades, the evidence, the mixer's meter, the settings.
pub(super) fn print(audit: &Audit, out: &mut dyn Write) -> Result<()> {
    if let Some(path) = &audit.recording.path {
        writeln!(out, "{HEADING}{path}{HEADING:#}")?;
    }
    text::print_paragraph(&said::answer(audit), out)?;
    for (_, sentence) in said::others(audit) {
        text::print_paragraph(&sentence, out)?;
    }
    let actions = said::actions(audit);
    if !actions.is_empty() {
        text::print_paragraph(&format!("What to do: {}", actions.join(" ")), out)?;
    }
    grades(audit, out)?;
    let test = audit.test;
    let reference = match test.reference_step {
        Some(step) => format!("the reference step is {step}"),
        None => "there is no reference step in the recording".to_owned(),
    };
    writeln!(out)?;
    text::print_paragraph(&format!("{LEGEND} Here {reference}."), out)?;
    for (band, word) in BANDS.into_iter().zip(BAND_WORDS) {
        steps(audit, (band, word), out)?;
    }
    meter(audit, out)?;
    let alignment = audit.alignment;
    writeln!(
        out,
        "\nThe test begins {} s into the recording; gain {} dB, clock {} ppm, polarity {}.",
        words::fixed(alignment.delay_s, 4),
        words::change(alignment.gain_db, 2),
        words::signed(alignment.drift_ppm, 2),
        alignment.polarity.word()
    )?;
    writeln!(
        out,
        "It is the {} form, {} s a step. Limits {}.",
        test.form.word(),
        words::fixed(test.slot_s, 2),
        limits(audit)
    )
}

/// What was graded.
fn grades(audit: &Audit, out: &mut dyn Write) -> Result<()> {
    if audit.grades.is_empty() {
        return Ok(());
    }
    let mut table = Table::new();
    table.heading(["graded", "", "value", "±", "limit"]);
    for each in &audit.grades {
        table.row([
            each.code.word().to_owned(),
            String::new(),
            grade(each),
            uncertainty(each),
            each.limit.map_or_else(|| "–".to_owned(), |limit| words::fixed(limit, 2)),
        ]);
    }
    writeln!(out)?;
    table.print(out)
}

fn steps(audit: &Audit, (band, word): (&str, &str), out: &mut dyn Write) -> Result<()> {
    let mut table = Table::new();
    table.heading([word, ""].into_iter().chain(SHORT.map(Detector::word)));
    for step in &audit.steps {
        let cells = SHORT.map(|detector| cell(&step.bands[band][detector.name()]));
        table.row([step.name.to_owned(), step.step.to_string()].into_iter().chain(cells));
    }
    writeln!(out)?;
    table.print(out)
}

fn meter(audit: &Audit, out: &mut dyn Write) -> Result<()> {
    let Some(meter) = &audit.meter else { return Ok(()) };
    writeln!(out)?;
    text::print_paragraph(&meter.sentence, out)?;
    writeln!(out)?;
    text::print_models(meter, out)
}
