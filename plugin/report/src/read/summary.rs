//! Several files at a glance, with a link to each.

use maud::{Markup, html};

use super::{ReadPage, SHEETS, anchor};
use crate::wide::wide;
use crate::{findings, numbers, page};

/// The table, in the order given.
pub(super) fn table(files: &[ReadPage], order: &[usize]) -> Markup {
    let table = html! {
        table.summary {
            caption { "The bus of each file; the sentence is its most important finding." }
            thead { tr {
                th.words scope="col" { "File" }
                th.words scope="col" { "Finding" }
                th scope="col" { "True peak" span.unit { "dBTP, audible" } }
                th scope="col" { "Room" span.unit { "dB, sample peak" } }
                th scope="col" { "Room" span.unit { "dB, audible" } }
                th scope="col" { "Integrated" span.unit { "LUFS, whole" } }
                th scope="col" { "Integrated" span.unit { "LUFS, audible" } }
            } }
            tbody {
                @for (place, &index) in order.iter().enumerate() { (row(&files[index], place)) }
            }
        }
    };
    let further = files.len().saturating_sub(SHEETS);
    html! {
        section.sheet aria-label="All files" {
            (wide("All files", &table))
            @if further > 0 {
                p {
                    "The first " (SHEETS) " have a part of their own below. Read one of the others by \
                     itself to see all of it."
                }
            }
        }
    }
}

/// The files that could not be read, and why.
pub(super) fn unread(sentences: &[String]) -> Markup {
    html! {
        @if !sentences.is_empty() {
            section.sheet aria-label="Not read" {
                h2 { "Not read" }
                ul { @for sentence in sentences { li { (page::clean(sentence)) } } }
            }
        }
    }
}

fn row(file: &ReadPage, place: usize) -> Markup {
    let name = page::path(page::file_name(file.file.path));
    let reading = file.reading;
    let (whole, audible) = (&reading.whole.bus, &reading.audible.bus);
    html! {
        tr {
            th scope="row" {
                @if place < SHEETS {
                    a href=(format!("#{}", anchor(place))) { (name) }
                } @else {
                    (name)
                }
            }
            td.words.sentence {
                @if let Some(finding) = reading.findings.as_slice().first() {
                    b.(findings::class(finding.severity)) { (finding.severity.word()) }
                    ": " (page::kept_together(&finding.sentence()))
                }
            }
            td { (numbers::level(audible.true_peak_dbtp)) }
            td { (numbers::level(reading.room.room_db)) }
            td { (numbers::level(reading.room.true_room_db)) }
            td { (numbers::level(whole.integrated_lufs)) }
            td { (numbers::level(audible.integrated_lufs)) }
        }
    }
}
