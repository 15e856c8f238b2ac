//! Entries: their table, on the page of a file and on that of a session, and what is said of the list
//! as a whole.

use ledgerline_measure::entries::{EntryList, MOST_ENTRIES};
use ledgerline_measure::words;
use maud::{Markup, html};

use crate::page;

/// Shorter sound could hold no level step anyway, in seconds.
const LEAST_S: f64 = 3.0;

/// A column of the table, behind that of the numbers.
pub(crate) struct Column {
    /// Its heading.
    pub name: &'static str,
    /// What its cells are in, and of what; empty for words.
    pub unit: &'static str,
}

/// An entry.
pub(crate) struct Row {
    /// Its number.
    pub number: u64,
    /// A cell a column.
    pub cells: Vec<String>,
    /// What is said of it; may be empty.
    pub sentence: String,
}

/// The entries, each with its sentence beneath.
pub(crate) fn table(caption: &str, columns: &[Column], rows: &[Row]) -> Markup {
    html! {
        table {
            caption { (caption) }
            thead { tr {
                th scope="col" { "Entry" }
                @for Column { name, unit } in columns {
                    @if unit.is_empty() { th.words scope="col" { (name) } }
                    @else { th scope="col" { (name) span.unit { (unit) } } }
                }
            } }
            @for row in rows { (body(columns, row)) }
        }
    }
}

fn body(columns: &[Column], row: &Row) -> Markup {
    let rows = if row.sentence.is_empty() { 1 } else { 2 };
    html! {
        tbody {
            tr {
                th scope="rowgroup" rowspan=(rows) { (words::count(Some(row.number))) }
                @for (column, cell) in columns.iter().zip(&row.cells) {
                    @if column.unit.is_empty() { td.words { (page::clean(cell)) } }
                    @else { td { (cell) } }
                }
            }
            @if rows > 1 {
                tr {
                    td.words.sentence colspan=(columns.len()) {
                        (page::kept_together(&page::clean(&row.sentence)))
                    }
                }
            }
        }
    }
}

/// That some are not kept, if so.
#[must_use]
pub fn older(entries: &EntryList) -> Option<String> {
    (entries.older() > 0).then(|| {
        format!(
            "{} came before these {MOST_ENTRIES} and are only counted.",
            words::counted(entries.older(), "entry", "entries")
        )
    })
}

/// Why no level step was found, where that is the sound's nature.
#[must_use]
pub fn none_found(entries: &EntryList) -> Option<&'static str> {
    let mut all = entries.iter();
    let only = all.next().filter(|_| all.len() == 0)?;
    (!only.steady && only.end_s - only.start_s >= LEAST_S).then_some(
        "No level step can be found in sound that moves by itself. The option --mark sets the moments \
         at which entries begin.",
    )
}
