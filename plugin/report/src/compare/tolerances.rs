//! Whether the export passes, and what was allowed.

use ledgerline_measure::compare::{Comparison, Tolerances};
use ledgerline_measure::verdict::Severity;
use ledgerline_measure::words;
use maud::{Markup, html};

use super::ComparePage;
use crate::findings::{self, Said};
use crate::{page, settings};

/// Pass or fail, and what lies outside.
pub(super) fn outcome(comparison: &Comparison) -> Markup {
    let said: Vec<Said> = if comparison.within {
        let sentence = "Everything lies within the tolerances.".to_owned();
        vec![Said { severity: Severity::Clear, word: "Pass", sentence }]
    } else {
        let fails = |outside: &String| Said {
            severity: Severity::Fault,
            word: "Fail",
            sentence: outside.clone(),
        };
        comparison.outside.iter().map(fails).collect()
    };
    html! { h3 { "Tolerances" } (findings::list(&said)) }
}

/// What was allowed, and what else it takes to compare the same again.
pub(super) fn settings(compare: &ComparePage) -> Markup {
    let edges = compare.edges;
    let mut rows = vec![(
        "Audible band",
        html! {
            (words::frequency(edges.low_hz())) " to "
            (words::frequency(edges.high_hz()))
        },
    )];
    rows.extend(settings::made_by(&compare.made));
    html! {
        h3 { "Settings" }
        div.pair {
            (page::facts("What was allowed", &allowed(&compare.comparison.tolerances)))
            (page::facts("To compare the same again", &rows))
        }
    }
}

fn allowed(tolerances: &Tolerances) -> Vec<(&'static str, Markup)> {
    let limit = |sign: &str, limit: Option<f64>, decimals: usize, unit: &str| match limit {
        Some(limit) => {
            html! { (sign) (words::fixed(limit, decimals)) " " span.unit { (unit) } }
        }
        None => html! { "anything" },
    };
    let lowest_hz = match tolerances.band_hz {
        Some(hz) => html! { "at least " (words::frequency(hz)) },
        None => html! { "anything" },
    };
    let count = |limit: Option<u64>| match limit {
        Some(limit) => html! { "at most " (words::count(Some(limit))) },
        None => html! { "anything" },
    };
    let free = |any: bool, kept: &str| html! { (if any { "anything" } else { kept }) };
    vec![
        ("Gain", limit("±", tolerances.gain_db, 2, "dB")),
        ("Residual", limit("at most ", tolerances.residual_dbfs, 1, "dBFS")),
        ("Change in loudness", limit("±", tolerances.loudness_lu, 2, "LU")),
        ("Rise in true peak", limit("at most ", tolerances.true_peak_db, 2, "dB")),
        ("End of the spectrum", lowest_hz),
        ("Delay", limit("±", tolerances.delay_ms, 2, "ms")),
        ("Drift", limit("±", tolerances.drift_ppm, 2, "ppm")),
        ("Overs and flat tops added", count(tolerances.overs)),
        ("Wrong spots", count(tolerances.spots)),
        ("Polarity", free(tolerances.any_polarity, "kept")),
        ("Channels", free(tolerances.any_channels, "as in the mix")),
        ("Pieces", free(tolerances.any_edits, "none missing, added or replaced")),
    ]
}
