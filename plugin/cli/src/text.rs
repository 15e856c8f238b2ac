//! An audit for the terminal.

use std::io::{Result, Write};

use ledgerline_measure::sum_test::audit::{Audit, Polarity};
use ledgerline_report::audit::rows::{cell, steady};

/// Detectors that the short table shows.
const SHORT: [&str; 3] = ["rms", "sample_peak", "true_peak"];

pub(crate) fn print(audit: &Audit, out: &mut dyn Write) -> Result<()> {
    if let Some(path) = &audit.recording.path {
        writeln!(out, "{path}")?;
    }
    writeln!(out, "{}\n", audit.sentence)?;
    let alignment = audit.alignment;
    writeln!(
        out,
        "The test begins at {:.4} s; gain {:.2} dB, clock {:+.2} ppm, polarity {}.\n",
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
        "Change against step 1 in dB, measured / expected (! where outside tolerance):\n"
    )?;
    write!(out, "{:<42}", "step")?;
    for band in ["whole", "audible"] {
        for detector in SHORT {
            write!(out, "{:>22}", format!("{} {band}", detector.replace('_', " ")))?;
        }
    }
    writeln!(out)?;
    for step in &audit.steps {
        write!(out, "{:>2} {:<39}", step.step, step.name)?;
        for band in ["whole", "audible"] {
            for detector in SHORT {
                write!(out, "{:>22}", cell(&step.bands[band][detector]))?;
            }
        }
        writeln!(out)?;
    }
    if let Some(meter) = &audit.meter {
        writeln!(out, "\n{}\n", meter.sentence)?;
        for candidate in meter.models.iter().take(5) {
            writeln!(
                out,
                "  {:<24} misfit {:>6.2} dB   probability {:>5.1} %",
                candidate.model().to_string(),
                candidate.misfit_db,
                100.0 * candidate.probability
            )?;
        }
    }
    Ok(())
}
