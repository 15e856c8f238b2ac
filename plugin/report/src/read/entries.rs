//! The entries of a file: where each lies and what it reads, and what changed from each to the next,
//! with what the kinds of meter show of it.

use ledgerline_measure::detector::Detector;
use ledgerline_measure::entries::{BandLevels, Change, Entry, OpenedBy, ShownLevels};
use ledgerline_measure::{RmsReference, words};
use maud::{Markup, html};

use super::ReadPage;
use crate::chart::Mark;
use crate::entries::{self, Column, Row};
use crate::wide::wide;
use crate::{numbers, page};

/// The meters whose changes are told.
const METERS: [Detector; 4] =
    [Detector::Rms, Detector::SamplePeak, Detector::TruePeak, Detector::Momentary];

/// The entries, where there are several; else why there are not, if that can be said.
pub(super) fn section(file: &ReadPage) -> Markup {
    if let Some(none_found) = entries::none_found(file.entries) {
        return html! { h3 { "Entries" } p { (none_found) } };
    }
    if !has_several(file) {
        return html! {};
    }
    html! {
        h3 { "Entries" }
        @if let Some(older) = entries::older(file.entries) { p { (older) } }
        (wide("Entries", &list(file)))
        (wide("Changes", &changes(file)))
    }
}

/// The entries on the charts over time.
pub(super) fn marks(file: &ReadPage) -> Vec<Mark> {
    let listed = file.entries.iter().filter(|_| has_several(file));
    listed
        .map(|entry| Mark {
            at: entry.start_s,
            name: entry.number.to_string(),
            is_users: entry.opened_by == OpenedBy::Mark,
        })
        .collect()
}

fn has_several(file: &ReadPage) -> bool {
    file.entries.iter().len() > 1
}

fn list(file: &ReadPage) -> Markup {
    let [whole, audible] = match file.view.rms_reference {
        RmsReference::FullScaleSquare => ["dBFS, whole", "dBFS, audible"],
        RmsReference::FullScaleSine => ["dBFS (sine), whole", "dBFS (sine), audible"],
    };
    let columns = [
        Column { name: "From", unit: "min:s" },
        Column { name: "To", unit: "min:s" },
        Column { name: "Begun by", unit: "" },
        Column { name: "RMS", unit: whole },
        Column { name: "RMS", unit: audible },
        Column { name: "Sample peak", unit: "dBFS, whole" },
        Column { name: "Sample peak", unit: "dBFS, audible" },
        Column { name: "What", unit: "" },
    ];
    let rms_offset_db = file.view.rms_reference.offset_db();
    let rows: Vec<Row> = file.entries.iter().map(|entry| row(entry, rms_offset_db)).collect();
    let caption = "The bus in each entry, by itself. The numbers are those in the charts.";
    entries::table(caption, &columns, &rows)
}

fn row(entry: &Entry, rms_offset_db: f64) -> Row {
    let (whole, audible) = (&entry.levels.whole.bus, &entry.levels.audible.bus);
    let rms = |shown: &ShownLevels| numbers::level(shown.of(Detector::Rms).plus(rms_offset_db));
    let sample_peak = |shown: &ShownLevels| numbers::level(shown.of(Detector::SamplePeak));
    Row {
        number: entry.number,
        cells: vec![
            words::moment(entry.start_s, 2),
            words::moment(entry.end_s, 2),
            entry.opened_by.word().into(),
            rms(whole),
            rms(audible),
            sample_peak(whole),
            sample_peak(audible),
            entry.change.as_ref().map_or_else(|| words::NONE.into(), what),
        ],
        sentence: String::new(),
    }
}

/// What happened, and what else it may have been.
fn what(change: &Change) -> String {
    let all = std::iter::once(&change.what).chain(&change.or);
    all.map(|what| what.word()).collect::<Vec<_>>().join(" or ")
}

fn changes(file: &ReadPage) -> Markup {
    html! {
        table {
            caption {
                "Each change: what happened, and by how many dB each kind of meter moved. Peaks are \
                 compared over equal lengths of both entries, since a held peak grows with time."
            }
            thead {
                tr {
                    th.words scope="col" rowspan="2" { "Entries" }
                    th.words scope="col" rowspan="2" { "Signal" }
                    @for meter in METERS {
                        th scope="colgroup" colspan="2" { (page::capital(meter.word())) }
                    }
                }
                tr { @for _ in METERS {
                    th scope="col" { "whole" }
                    th scope="col" { "audible" }
                } }
            }
            @for entry in file.entries.iter() {
                @if let Some(change) = &entry.change { (body(entry, change)) }
            }
        }
    }
}

/// A signal's name, and its differences.
type Signal = (&'static str, fn(&BandLevels) -> &ShownLevels);

fn body(entry: &Entry, change: &Change) -> Markup {
    let all: [Signal; 2] = [("Sum", |levels| &levels.sum), ("Bus", |levels| &levels.bus)];
    let exists = |(_, of): &Signal| {
        let bands = [&change.whole, &change.audible].map(of);
        bands.iter().any(|shown| METERS.iter().any(|meter| shown.of(*meter).exists()))
    };
    let signals: Vec<Signal> = all.into_iter().filter(exists).collect();
    html! {
        tbody {
            tr {
                th scope="rowgroup" rowspan=(signals.len() + 1) {
                    (words::count(Some(change.against))) " → " (words::count(Some(entry.number)))
                }
                td.words.sentence colspan=(1 + 2 * METERS.len()) {
                    (page::kept_together(&change.sentence))
                }
            }
            @for (name, of) in &signals {
                tr {
                    th scope="row" { (name) }
                    @for meter in METERS {
                        td { (numbers::difference(of(&change.whole).of(meter))) }
                        td { (numbers::difference(of(&change.audible).of(meter))) }
                    }
                }
            }
        }
    }
}
