//! The ledger: every level of each signal, whole band beside audible band, and what lies between.

use ledgerline_measure::reading::{Levels, WindowLevels};
use ledgerline_measure::{Halves, Level, RmsReference, words};
use maud::{Markup, html};

use super::ReadPage;
use crate::wide::wide;
use crate::{numbers, page};

/// What stands in a cell.
enum Cell {
    Level(Level),
    Count(Option<u64>),
}

/// One column.
struct Column {
    name: &'static str,
    unit: &'static str,
    cell: fn(&Levels, &WindowLevels) -> Cell,
}

const RMS: &str = "RMS";

/// Common headings, and the columns under them.
const GROUPS: [(&str, &[Column]); 3] = [
    (
        "Peak",
        &[
            Column { name: "Sample", unit: "dBFS", cell: |l, _| Cell::Level(l.sample_peak_dbfs) },
            Column { name: "True", unit: "dBTP", cell: |l, _| Cell::Level(l.true_peak_dbtp) },
            Column { name: "Overs", unit: "count", cell: |l, _| Cell::Count(l.overs) },
        ],
    ),
    (
        "Energy",
        &[
            Column { name: RMS, unit: "dBFS", cell: |l, _| Cell::Level(l.rms_dbfs) },
            Column { name: "Crest", unit: "dB", cell: |l, _| Cell::Level(l.crest_db) },
        ],
    ),
    (
        "Loudness",
        &[
            Column {
                name: "Momentary",
                unit: "LUFS, highest",
                cell: |_, w| Cell::Level(w.momentary_max_lufs),
            },
            Column {
                name: "Short-term",
                unit: "LUFS, highest",
                cell: |_, w| Cell::Level(w.short_term_max_lufs),
            },
            Column {
                name: "Integrated",
                unit: "LUFS",
                cell: |l, _| Cell::Level(l.integrated_lufs),
            },
            Column { name: "Range", unit: "LU (LRA)", cell: |l, _| Cell::Level(l.lra_lu) },
        ],
    ),
];

/// One signal in both bands.
struct Signal<'a> {
    name: &'static str,
    explanation: String,
    whole: (&'a Levels, &'a WindowLevels),
    audible: (&'a Levels, &'a WindowLevels),
}

/// The ledger with its heading.
pub(super) fn section(file: &ReadPage) -> Markup {
    let signals = signals(file);
    let last = signals.len() - 1;
    let table = html! {
        table.ledger {
            caption {
                "Over the whole length. Difference: whole band less audible band, which is what a \
                 meter reads and is not audible."
            }
            (head(file))
            @for (index, signal) in signals.iter().enumerate() {
                tbody.total[index == last] { (rows(signal)) }
            }
        }
    };
    html! { h3 { "Ledger" } (wide("Ledger", &table)) (overs(file)) (damage(file)) (decorrelation(file)) }
}

/// The signals that there are; the bus, which is the total, last.
fn signals<'a>(file: &ReadPage<'a>) -> Vec<Signal<'a>> {
    let reading = file.reading;
    let (whole, audible) = (&reading.whole, &reading.audible);
    let (whole_now, audible_now) = (&reading.windows.whole, &reading.windows.audible);
    macro_rules! signal {
        ($field:ident, $name:expr, $explanation:expr) => {
            Signal {
                name: $name,
                explanation: $explanation.into(),
                whole: (&whole.$field, &whole_now.$field),
                audible: (&audible.$field, &audible_now.$field),
            }
        };
    }
    let halves = reading.halves;
    if halves == Halves::Mono {
        return vec![signal!(bus, "Bus", halves.word())];
    }
    let all = match file.file.channels {
        0..=2 => halves.both(),
        count => format!("all {count} channels"),
    };
    let ([first, second], [left, right]) = (halves.letters(), halves.names());
    vec![
        signal!(a, first, left),
        signal!(b, second, right),
        signal!(sum, "Sum", halves.sum()),
        signal!(bus, "Bus", all),
    ]
}

fn head(file: &ReadPage) -> Markup {
    let unit = |column: &Column| match (column.name, file.view.rms_reference) {
        (RMS, RmsReference::FullScaleSine) => "dBFS (sine)",
        _ => column.unit,
    };
    html! {
        thead {
            tr {
                th scope="col" rowspan="2" { "Signal" }
                th.words scope="col" rowspan="2" { "Band" }
                @for (name, columns) in &GROUPS {
                    th.group scope="colgroup" colspan=(columns.len()) { (name) }
                }
            }
            tr {
                @for column in GROUPS.iter().flat_map(|(_, columns)| *columns) {
                    th scope="col" { (column.name) span.unit { (unit(column)) } }
                }
            }
        }
    }
}

fn rows(signal: &Signal) -> Markup {
    let columns = || GROUPS.iter().flat_map(|(_, columns)| *columns);
    let whole = |column: &Column| (column.cell)(signal.whole.0, signal.whole.1);
    let audible = |column: &Column| (column.cell)(signal.audible.0, signal.audible.1);
    html! {
        tr {
            th scope="rowgroup" rowspan="3" {
                (signal.name) br; span.unit { (signal.explanation) }
            }
            th.is-whole scope="row" { "whole" }
            @for column in columns() { td.is-whole { (text(&whole(column))) } }
        }
        tr {
            th.is-audible scope="row" { "audible" }
            @for column in columns() { td.is-audible { (text(&audible(column))) } }
        }
        tr {
            th.is-hidden scope="row" { "difference" }
            @for column in columns() {
                td.is-hidden { (difference(&whole(column), &audible(column))) }
            }
        }
    }
}

fn text(cell: &Cell) -> String {
    match cell {
        Cell::Level(level) => numbers::level(*level),
        Cell::Count(count) => words::count(*count),
    }
}

fn difference(whole: &Cell, audible: &Cell) -> String {
    match (whole, audible) {
        (Cell::Level(whole), Cell::Level(audible)) => numbers::difference(whole.minus(*audible)),
        (Cell::Count(Some(whole)), Cell::Count(Some(audible))) => {
            words::signed_count(Some(*whole as i64 - *audible as i64), words::count)
        }
        _ => "–".into(),
    }
}

/// How late a copy has to come to add like an independent sound.
fn decorrelation(file: &ReadPage) -> Markup {
    let sentence = file.reading.decorrelation_ms.sentence();
    html! { @if let Some(sentence) = sentence { p { (page::kept_together(&sentence)) } } }
}

/// What clipping would add.
fn damage(file: &ReadPage) -> Markup {
    let sentence = file.reading.damage.sentence();
    html! { @if let Some(sentence) = sentence { p { (page::kept_together(&sentence)) } } }
}

/// When the latest overs and flat tops began.
fn overs(file: &ReadPage) -> Markup {
    let reading = file.reading;
    let counts = [
        ("Overs", "overs", reading.whole.bus.overs.unwrap_or(0), reading.windows.over_times_s),
        ("Flat tops", "flat tops", reading.damage.flat_tops, reading.damage.flat_top_times_s),
    ];
    html! {
        @for (name, latest, count, times) in &counts {
            @if !times.as_slice().is_empty() {
                p {
                    @if (times.as_slice().len() as u64) < *count {
                        "The latest of " (words::count(Some(*count))) " " (latest) " began at "
                    } @else { (name) " of the bus began at " }
                    (moments(times.as_slice())) " " span.unit { "(min:s)" } "."
                }
            }
        }
    }
}

fn moments(times_s: &[f64]) -> String {
    let list: Vec<String> = times_s.iter().map(|time_s| numbers::moment(*time_s)).collect();
    words::list(&list)
}
