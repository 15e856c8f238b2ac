//! Text for the terminal: tables and findings.

use std::io::{Result, Write};

use comfy_table::presets::NOTHING;
use comfy_table::{CellAlignment, ContentArrangement};
use ledgerline_measure::reading::Damage;
use ledgerline_measure::sum_test::Identification;
use ledgerline_measure::verdict::{Finding, Severity};
use ledgerline_measure::words;

use crate::colour;

/// Columns that a page of text may take.
pub(crate) const WIDTH: usize = 100;
/// How many models of meter are listed.
const MODELS: usize = 5;
/// Width of the words before a sentence.
const SEVERITY_WIDTH: usize = 9;

/// A table without lines: names on the left, numbers on the right.
pub(crate) struct Table(comfy_table::Table);

impl Table {
    pub(crate) fn new() -> Self {
        let mut table = comfy_table::Table::new();
        table.load_style(NOTHING);
        table.set_content_arrangement(ContentArrangement::Disabled);
        Self(table)
    }

    pub(crate) fn heading<T: Into<String>>(&mut self, cells: impl IntoIterator<Item = T>) {
        self.0.set_header(cells.into_iter().map(Into::into));
    }

    pub(crate) fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        self.0.add_row(cells);
    }

    pub(crate) fn print(mut self, out: &mut dyn Write) -> Result<()> {
        for (index, column) in self.0.column_iter_mut().enumerate() {
            column.set_padding((0, 2));
            if index >= 2 {
                column.set_cell_alignment(CellAlignment::Right);
            }
        }
        for line in self.0.lines() {
            writeln!(out, "{}", line.trim_end())?;
        }
        Ok(())
    }
}

/// Findings, a paragraph each, with the severity before it; what to do stands in a line of its own.
pub(crate) fn print_findings(findings: &[Finding], out: &mut dyn Write) -> Result<()> {
    for finding in findings {
        print_sentence(finding.severity, &finding.sentence(), out)?;
        if let Some(action) = finding.action() {
            writeln!(out, "{:SEVERITY_WIDTH$}{action}", "")?;
        }
    }
    Ok(())
}

/// A paragraph, wrapped.
pub(crate) fn print_paragraph(words: &str, out: &mut dyn Write) -> Result<()> {
    textwrap::wrap(words, WIDTH).iter().try_for_each(|line| writeln!(out, "{line}"))
}

/// A sentence with its severity before it, wrapped.
pub(crate) fn print_sentence(
    severity: Severity,
    sentence: &str,
    out: &mut dyn Write,
) -> Result<()> {
    let style = colour::of(severity);
    for (index, line) in textwrap::wrap(sentence, WIDTH - SEVERITY_WIDTH).iter().enumerate() {
        let word = if index == 0 { severity.word() } else { "" };
        writeln!(out, "{style}{word:<SEVERITY_WIDTH$}{style:#}{line}")?;
    }
    Ok(())
}

/// The likeliest models of a meter, a line each.
pub(crate) fn print_models(meter: &Identification, out: &mut dyn Write) -> Result<()> {
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
    table.print(out)
}

/// The end of a path, which tells files apart, in at most so many characters.
pub(crate) fn shortened(path: &str, most: usize) -> String {
    let count = path.chars().count();
    if count <= most {
        return path.to_owned();
    }
    let kept: String = path.chars().skip(count + 1 - most).collect();
    format!("…{kept}")
}

/// How many flat tops there are and when the latest began; none where there are none.
pub(crate) fn flat_tops(damage: &Damage) -> Option<String> {
    let times = damage.flat_top_times_s.as_slice();
    let list: Vec<String> = times.iter().map(|time_s| words::moment(*time_s, 1)).collect();
    let latest = if (times.len() as u64) < damage.flat_tops { "the latest at" } else { "at" };
    let count = words::count(Some(damage.flat_tops));
    (damage.flat_tops > 0)
        .then(|| format!("Flat tops: {count}, {latest} {} (min:s).", words::list(&list)))
}
