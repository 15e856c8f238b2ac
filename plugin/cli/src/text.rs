//! Text for the terminal: tables, findings, and numbers as they are spoken of.

use std::io::{Result, Write};

use comfy_table::presets::NOTHING;
use comfy_table::{CellAlignment, ContentArrangement};
use ledgerline_measure::verdict::{Finding, Severity};

use crate::colour;

/// Columns that a page of text may take.
pub(crate) const WIDTH: usize = 100;
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

/// Findings, a paragraph each, with the severity before it.
pub(crate) fn print_findings(findings: &[Finding], out: &mut dyn Write) -> Result<()> {
    for finding in findings {
        print_sentence(finding.severity, &finding.sentence(), out)?;
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

/// A frequency in the unit that it is spoken of in.
pub(crate) fn frequency(hz: f64) -> String {
    let (number, unit) = if hz >= 1000.0 { (hz / 1000.0, "kHz") } else { (hz, "Hz") };
    let text = format!("{number:.2}");
    format!("{} {unit}", text.trim_end_matches('0').trim_end_matches('.'))
}

/// A share, 0 to 1, in percent.
pub(crate) fn percent(share: f64) -> String {
    match 100.0 * share {
        percent if percent >= 10.0 => format!("{percent:.0} %"),
        percent if percent >= 0.1 => format!("{percent:.1} %"),
        percent if percent > 0.0 => "< 0.1 %".into(),
        _ => "0 %".into(),
    }
}

/// A ratio between −1 and 1, with a true minus sign.
pub(crate) fn signed_ratio(ratio: f64) -> String {
    let text = format!("{:.3}", ratio.abs());
    if ratio < 0.0 && text != "0.000" { format!("−{text}") } else { text }
}

/// A time as minutes and seconds, hours where there are any.
pub(crate) fn duration(seconds: f64) -> String {
    let tenths = (seconds * 10.0).round() as u64;
    let (minutes, tenths) = (tenths / 600, tenths % 600);
    let (whole, part) = (tenths / 10, tenths % 10);
    match minutes / 60 {
        0 => format!("{minutes}:{whole:02}.{part}"),
        hours => format!("{hours}:{:02}:{whole:02}.{part}", minutes % 60),
    }
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
