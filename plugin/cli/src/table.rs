//! Several mixers side by side.

use std::io::{Result, Write};

use ledgerline_measure::sum_test::audit::{Audit, Verdict};

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
pub(crate) fn rows(audits: &[Audit]) -> Vec<(String, Vec<String>)> {
    let mut rows = vec![("mixer".to_owned(), audits.iter().map(name).collect())];
    let mut row = |heading: String, cell: &dyn Fn(&Audit) -> String| {
        rows.push((heading, audits.iter().map(cell).collect()));
    };
    row("verdict".to_owned(), &|audit| verdict(audit).to_owned());
    row("gain, dB".to_owned(), &|audit| format!("{:.2}", audit.alignment.gain_db));
    row("clock, ppm".to_owned(), &|audit| {
        format!("{:+.2}", crate::text::steady(audit.alignment.drift_ppm))
    });
    row("floor, audible, dBFS".to_owned(), &|audit| {
        format!("{:.1}", audit.recording.floor_dbfs["audible"])
    });
    for index in 1..8 {
        for detector in ["rms", "sample_peak"] {
            let heading = format!("step {}, {}, dB", index + 1, detector.replace('_', " "));
            row(heading, &|audit| crate::text::cell(&audit.steps[index].bands["whole"][detector]));
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

pub(crate) fn print(audits: &[Audit], out: &mut dyn Write) -> Result<()> {
    let rows = rows(audits);
    let width = |cells: &mut dyn Iterator<Item = &String>| {
        cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
    };
    let first = width(&mut rows.iter().map(|row| &row.0));
    let widths: Vec<usize> =
        (0..audits.len()).map(|column| width(&mut rows.iter().map(|row| &row.1[column]))).collect();
    for (heading, cells) in &rows {
        write!(out, "{heading:<first$}")?;
        for (cell, width) in cells.iter().zip(&widths) {
            write!(out, "  {cell:>width$}")?;
        }
        writeln!(out)?;
    }
    Ok(())
}
