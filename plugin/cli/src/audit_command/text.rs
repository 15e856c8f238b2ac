//! An audit for the terminal, no wider than 100 columns.

use std::io::{Result, Write};

use ledgerline_measure::sum_test::{Audit, Polarity};
use ledgerline_report::audit::rows::{cell, steady};
use ledgerline_report::numbers;

use crate::colour::HEADING;
use crate::text::{self, Table};

/// Detectors that the short tables show.
const SHORT: [&str; 3] = ["rms", "sample_peak", "true_peak"];
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
        "\nThe test begins at {:.4} s; gain {:.2} dB, clock {:+.2} ppm, polarity {}.",
        alignment.delay_s,
        alignment.gain_db,
        steady(alignment.drift_ppm),
        match alignment.polarity {
            Polarity::Same => "kept",
            Polarity::Inverted => "turned",
        }
    )?;
    writeln!(
        out,
        "\nChange against step 1 in dB, measured / expected (! where outside tolerance)"
    )?;
    for band in ["whole", "audible"] {
        steps(audit, band, out)?;
    }
    meter(audit, out)
}

fn steps(audit: &Audit, band: &'static str, out: &mut dyn Write) -> Result<()> {
    let mut table = Table::new();
    let detectors = SHORT.map(|detector| detector.replace('_', " "));
    table.heading([format!("{band} band"), String::new()].into_iter().chain(detectors));
    for step in &audit.steps {
        let cells = SHORT.map(|detector| cell(&step.bands[band][detector]));
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
    table.heading(["model", "", "misfit, dB", "probability"]);
    for candidate in meter.models.iter().take(MODELS) {
        table.row([
            candidate.model().to_string(),
            String::new(),
            format!("{:.2}", candidate.misfit_db),
            numbers::share(Some(candidate.probability)),
        ]);
    }
    writeln!(out)?;
    table.print(out)
}
