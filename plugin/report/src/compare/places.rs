//! Where something was cut, put in, or went wrong.

use ledgerline_measure::compare::Comparison;
use ledgerline_measure::compare::record::{Edit, Spot};
use ledgerline_measure::words;
use maud::{Markup, html};

use crate::wide::wide;
use crate::{numbers, page};

/// The edits, if there are any.
pub(super) fn edits(comparison: &Comparison) -> Markup {
    if comparison.edits.is_empty() {
        return html! {};
    }
    let row = |edit: &Edit| {
        html! {
            tr {
                th scope="row" { (page::capital(edit.kind.word())) }
                td { (numbers::exact_moment(edit.mix_s)) }
                td { (numbers::exact_moment(edit.export_s)) }
                td { (words::fixed(edit.length_s, 3)) }
                td { "±" (words::fixed(edit.error_s, 3)) }
            }
        }
    };
    let table = html! {
        table {
            caption { "In the order of the export." }
            thead { tr {
                th.words scope="col" { "What" }
                th scope="col" { "In the mix" span.unit { "min:s" } }
                th scope="col" { "In the export" span.unit { "min:s" } }
                th scope="col" { "Length" span.unit { "s" } }
                th scope="col" { "Place known to" span.unit { "s" } }
            } }
            tbody { @for edit in &comparison.edits { (row(edit)) } }
        }
    };
    html! { h3 { "Edits" } (wide("Edits", &table)) }
}

/// Spots of a few wrong samples, if there are any.
pub(super) fn spots(comparison: &Comparison) -> Markup {
    let spots = &comparison.spots;
    if spots.is_empty() {
        return html! {};
    }
    let found = comparison.spots_found.max(spots.len() as u64);
    let row = |spot: &Spot| {
        html! {
            tr {
                th scope="row" { (page::capital(spot.kind.word())) }
                td { (numbers::exact_moment(spot.export_s)) }
                td { (words::count(Some(spot.export_frame))) }
                td { (spot.channel + 1) }
                td { (words::count(Some(u64::from(spot.samples)))) }
                td { (numbers::level(spot.error_dbfs)) }
                td { (numbers::exact_moment(spot.mix_s)) }
            }
        }
    };
    let table = html! {
        table {
            caption {
                @if found > spots.len() as u64 {
                    "The first " (spots.len()) " of " (words::count(Some(found)))
                    ", in the order of time."
                } @else { "In the order of time." }
            }
            thead { tr {
                th.words scope="col" { "What" }
                th scope="col" { "In the export" span.unit { "min:s" } }
                th scope="col" { "Frame" span.unit { "from 0" } }
                th scope="col" { "Channel" span.unit { "from 1" } }
                th scope="col" { "Samples" span.unit { "count" } }
                th scope="col" { "Wrong by" span.unit { "dBFS, at most" } }
                th scope="col" { "In the mix" span.unit { "min:s" } }
            } }
            tbody { @for spot in spots { (row(spot)) } }
        }
    };
    html! { h3 { "Wrong spots" } (wide("Wrong spots", &table)) }
}
