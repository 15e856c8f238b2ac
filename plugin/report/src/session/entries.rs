//! The entries of one instance, with their sentences.

use maud::{Markup, html};

use super::readings::host;
use super::{Entry, InstanceLog};
use crate::entries::{self, Column, Row};
use crate::numbers;
use crate::wide::wide;

const COLUMNS: [Column; 8] = [
    Column { name: "Begun by", unit: "" },
    Column { name: "From", unit: "UTC" },
    Column { name: "To", unit: "UTC" },
    Column { name: "From", unit: "host, min:s" },
    Column { name: "True peak", unit: "dBTP, whole" },
    Column { name: "True peak", unit: "dBTP, audible" },
    Column { name: "RMS", unit: "dBFS, whole" },
    Column { name: "RMS", unit: "dBFS, audible" },
];

pub(super) fn section(log: &InstanceLog) -> Markup {
    if log.entries.is_empty() {
        return html! {};
    }
    let rows: Vec<Row> = log.entries.iter().map(|entry| row(log, entry)).collect();
    let caption = "Each entry has readings of its own; the sentence under it tells the change from the \
                   entry before. The numbers are those in the charts.";
    html! { h3 { "Entries" } (wide("Entries", &entries::table(caption, &COLUMNS, &rows))) }
}

fn row(log: &InstanceLog, entry: &Entry) -> Row {
    Row {
        number: entry.number,
        cells: vec![
            entry.opening().into(),
            log.moment(entry.from),
            log.moment(entry.to),
            host(entry.host_s[0]),
            numbers::level(entry.whole_dbtp),
            numbers::level(entry.audible_dbtp),
            numbers::level(entry.whole_dbfs),
            numbers::level(entry.audible_dbfs),
        ],
        sentence: entry.sentence(),
    }
}

impl Entry {
    /// What is said of it: the change, and what its readings lack.
    #[must_use]
    pub fn sentence(&self) -> String {
        let change = self.change.as_ref().map(|change| change.sentence.as_str());
        let lacking = self.incomplete.then_some("Incomplete: part of it was not examined.");
        let parts: Vec<&str> = change.into_iter().chain(lacking).collect();
        parts.join(" ")
    }
}
