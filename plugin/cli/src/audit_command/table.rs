//! Several mixers side by side.

use std::io::{Result, Write};

/// Prints rows of a heading and a cell a column.
pub(super) fn print(rows: &[(String, Vec<String>)], out: &mut dyn Write) -> Result<()> {
    let columns = rows.first().map_or(0, |row| row.1.len());
    let width = |cells: &mut dyn Iterator<Item = &String>| {
        cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
    };
    let first = width(&mut rows.iter().map(|row| &row.0));
    let widths: Vec<usize> =
        (0..columns).map(|column| width(&mut rows.iter().map(|row| &row.1[column]))).collect();
    for (heading, cells) in rows {
        write!(out, "{heading:<first$}")?;
        for (cell, width) in cells.iter().zip(&widths) {
            write!(out, "  {cell:>width$}")?;
        }
        writeln!(out)?;
    }
    Ok(())
}
