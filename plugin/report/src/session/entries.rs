//! The entries of one instance, with their sentences.

use ledgerline_measure::words;
use maud::{Markup, html};

use super::readings::host;
use super::{Entry, InstanceLog};
use crate::wide::wide;
use crate::{numbers, page};

pub(super) fn section(log: &InstanceLog) -> Markup {
    if log.entries.is_empty() {
        return html! {};
    }
    let table = html! {
        table {
            caption {
                "Each entry has readings of its own; the sentence under it tells the change from the \
                 entry before. The numbers are those in the charts."
            }
            thead { tr {
                th scope="col" { "Entry" }
                th.words scope="col" { "Begun by" }
                th scope="col" { "From" span.unit { "UTC" } }
                th scope="col" { "To" span.unit { "UTC" } }
                th scope="col" { "From" span.unit { "host, min:s" } }
                th scope="col" { "True peak" span.unit { "dBTP, whole" } }
                th scope="col" { "True peak" span.unit { "dBTP, audible" } }
                th scope="col" { "RMS" span.unit { "dBFS, whole" } }
                th scope="col" { "RMS" span.unit { "dBFS, audible" } }
            } }
            @for entry in &log.entries { (rows(log, entry)) }
        }
    };
    html! { h3 { "Entries" } (wide("Entries", &table)) }
}

fn rows(log: &InstanceLog, entry: &Entry) -> Markup {
    let sentence = entry.sentence();
    let rows = if sentence.is_empty() { 1 } else { 2 };
    html! {
        tbody {
            tr {
                th scope="rowgroup" rowspan=(rows) { (words::count(Some(entry.number))) }
                td.words { (page::clean(entry.opening())) }
                td { (log.moment(entry.from)) }
                td { (log.moment(entry.to)) }
                td { (host(entry.host_s[0])) }
                td { (numbers::level(entry.whole_dbtp)) }
                td { (numbers::level(entry.audible_dbtp)) }
                td { (numbers::level(entry.whole_dbfs)) }
                td { (numbers::level(entry.audible_dbfs)) }
            }
            @if rows > 1 {
                tr {
                    td.words.sentence colspan="8" {
                        (page::kept_together(&page::clean(&sentence)))
                    }
                }
            }
        }
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
