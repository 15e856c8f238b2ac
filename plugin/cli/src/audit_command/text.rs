//! An audit for the terminal, no wider than 100 columns.

use std::io::{Result, Write};

use ledgerline_measure::detector::Detector;
use ledgerline_measure::sum_test::Audit;
use ledgerline_measure::sum_test::{BAND_WORDS, BANDS};
use ledgerline_measure::words;
use ledgerline_report::audit::rows::{LEGEND, cell};

use crate::colour::HEADING;
use crate::text::{self, Table};

/// Detectors that the short tables show.
const SHORT: [Detector; 3] = [Detector::Rms, Detector::SamplePeak, Detector::TruePeak];
/// How many models of meter are listed.
const MODELS: usize = 5;

pub(super) fn print(audit: &Audit, out: &mut dyn Write) -> Result<()> {
    if let Some(path) = &audit.recording.path {
        writeln!(out, "{HEADING}{path}{HEADING:#}")?;
    }
    text::print_paragraph(&audit.sentence, out)?;
    let alignment = audit.alignment;
    writeln!(
        out,
        "\nThe test begins {} s into the recording; gain {} dB, clock {} ppm, polarity {}.",
        words::fixed(alignment.delay_s, 4),
        words::change(alignment.gain_db, 2),
        words::signed(alignment.drift_ppm, 2),
        alignment.polarity.word()
    )?;
    writeln!(out, "\n{LEGEND}")?;
    for (band, word) in BANDS.into_iter().zip(BAND_WORDS) {
        steps(audit, (band, word), out)?;
    }
    meter(audit, out)
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
    let mut table = Table::new();
    table.heading(["model", "", "misfit, dB", "likely"]);
    for candidate in meter.models.iter().take(MODELS) {
        table.row([
            candidate.model().word(),
            String::new(),
            words::fixed(candidate.misfit_db, 2),
            words::share(Some(candidate.probability), 1),
        ]);
    }
    writeln!(out)?;
    table.print(out)
}
