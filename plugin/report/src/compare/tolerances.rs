//! Whether the export passes, as what, and what was allowed.

use ledgerline_measure::compare::{Comparison, limits};
use ledgerline_measure::verdict::Severity;
use ledgerline_measure::words;
use maud::{Markup, html};

use super::ComparePage;
use crate::findings::{self, Said};
use crate::wide::wide;
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
    html! {
        p.about { (comparison.judged_as()) ":" }
        (findings::list(&said))
    }
}

/// Limit by limit: what was allowed and what was found.
pub(super) fn table(comparison: &Comparison) -> Markup {
    let table = html! {
        table.narrow {
            caption { (comparison.judged_as()) "." }
            thead { tr {
                th.words scope="col" { "What" }
                th.words scope="col" { "Allowed" }
                th.words scope="col" { "Found" }
            } }
            tbody { @for limit in limits::of(comparison) { tr {
                th scope="row" { (limit.name) }
                td.words { (page::kept_together(&limit.allowed)) }
                td.words { (page::kept_together(&limit.found)) }
            } } }
        }
    };
    html! { h3 { "Tolerances" } (wide("Tolerances", &table)) }
}

/// What it takes to compare the same again.
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
        (page::facts("To compare the same again", &rows))
    }
}
