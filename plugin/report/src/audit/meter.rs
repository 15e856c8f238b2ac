//! Which meter the mixer has, as far as its readings tell.

use ledgerline_measure::sum_test::Audit;
use ledgerline_measure::words;
use maud::{Markup, html};

use crate::wide::wide;
use crate::{numbers, page};

/// The ranking, if readings were typed in.
pub(super) fn section(audit: &Audit) -> Markup {
    let Some(meter) = &audit.meter else { return html! {} };
    let table = html! {
        table {
            caption {
                "Models of meters, the likeliest first. Misfit: RMS of what is left between \
                 readings and model after one free offset."
            }
            thead { tr {
                th.words scope="col" { "Model" }
                th.words scope="col" { "Band" }
                th scope="col" { "Misfit" span.unit { "dB" } }
                th scope="col" { "Likely" }
                th scope="col" { "Offset" span.unit { "dB" } }
            } }
            tbody { @for candidate in &meter.models { tr {
                th scope="row" { (page::capital(candidate.detector.word())) }
                td.words { (candidate.band) }
                td { (words::fixed(candidate.misfit_db, 2)) }
                td { (numbers::share(Some(candidate.probability))) }
                td { (words::signed(candidate.offset_db, 2)) }
            } } }
        }
    };
    html! {
        h3 { "The mixer's meter" }
        p { (page::kept_together(&meter.sentence)) }
        (wide("Models of meters", &table))
    }
}
