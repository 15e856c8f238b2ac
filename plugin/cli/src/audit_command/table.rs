//! Several mixers side by side.

use std::io::{Result, Write};

use ledgerline_measure::sum_test::Audit;
use ledgerline_report::audit::rows::rows;

pub(super) fn print(audits: &[Audit], out: &mut dyn Write) -> Result<()> {
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
