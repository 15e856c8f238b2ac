//! Tables of hidden content, and of how the halves add.

use ledgerline_measure::{Halves, HalvesRow, words};
use maud::{Markup, html};

use super::ReadPage;
use crate::wide::wide;
use crate::{numbers, page};

/// Shares of the energy, and tones.
pub(super) fn section(file: &ReadPage) -> Markup {
    let hidden = &file.reading.hidden;
    let edges = file.settings.edges;
    let (low, high) = (words::frequency(edges.low_hz()), words::frequency(edges.high_hz()));
    let rows = [
        (format!("Above {high}"), hidden.above_dbfs, hidden.above_share),
        (format!("Below {low}"), hidden.below_dbfs, hidden.below_share),
        ("DC offset".to_owned(), hidden.dc_dbfs, hidden.dc_share),
        (
            format!("Audible, {low} to {high}"),
            file.reading.audible.bus.rms_dbfs,
            hidden.audible_share,
        ),
    ];
    let tones = hidden.tones.as_slice();
    let shares = html! {
            table {
                caption { "RMS level, and share of the energy of the whole band" }
                thead { tr {
                    th.words scope="col" { "Where" }
                    th scope="col" { "Level" span.unit { "dBFS" } }
                    th scope="col" { "Share" span.unit { "of energy" } }
                } }
                tbody { @for (name, level, share) in &rows {
                    tr {
                        th scope="row" { (name) }
                        td { (numbers::level(*level)) }
                        td { (numbers::share(*share)) }
                    }
                } }
            }
    };
    html! {
        h3 { "Hidden content" }
        div.pair {
            (wide("Hidden content", &shares))
            @if tones.is_empty() {
                p { "No steady tone stands out of the hidden content." }
            } @else {
                table {
                    caption { "Steady tones, strongest first" }
                    thead { tr {
                        th scope="col" { "Frequency" span.unit { "Hz" } }
                        th scope="col" { "Level" span.unit { "dBFS" } }
                    } }
                    tbody { @for tone in tones {
                        tr { td { (words::hertz(tone.hz)) } td { (numbers::level(tone.dbfs)) } }
                    } }
                }
            }
        }
    }
}

/// How half A and half B add; nothing of a mono file.
pub(super) fn halves(file: &ReadPage) -> Markup {
    let reading = file.reading;
    let halves = reading.halves;
    if halves == Halves::Mono {
        return html! {};
    }
    let ([first, second], [left, right]) = (halves.letters(), halves.names());
    let unit =
        |row: HalvesRow| if row == HalvesRow::Correlation { "−1 to +1" } else { row.unit() };
    let table = html! {
        table {
            caption {
                "How " (first) " (" (left) ") and " (second) " (" (right) ") add. Sum gain is against \
                 one of two equal halves: +6.02 dB identical, +3.01 dB independent, −∞ cancelling; \
                 none where they differ by more than 10 dB."
            }
            thead { tr {
                th.words scope="col" { "What" }
                th.words scope="col" { "Unit" }
                th scope="col" { "Whole" }
                th scope="col" { "Audible" }
            } }
            tbody { @for row in HalvesRow::ALL {
                tr {
                    th scope="row" { (page::capital(&row.word(halves))) }
                    td.words.unit { (unit(row)) }
                    td.is-whole { (row.write(&reading.whole, 2)) }
                    td.is-audible { (row.write(&reading.audible, 2)) }
                }
            } }
        }
    };
    html! { h3 { "Halves" } (wide("Halves", &table)) }
}
