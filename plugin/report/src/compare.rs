//! The page of a comparison: the sentence first, whether it passes, what is audible, what to do, what
//! is hidden, the files' books; then the ledger of mix and export, where the two lie against each
//! other, what is left of the difference, and last what it takes to compare the same again.

mod charts;
mod facts;
mod over_time;
mod places;
mod tolerances;

use ledgerline_measure::compare::Comparison;
use ledgerline_measure::compare::finding::Concern;
use ledgerline_measure::compare::levels::LevelRow;
use ledgerline_measure::compare::record::Verdict;
use ledgerline_measure::verdict::Severity;
use ledgerline_measure::{Edges, Level};
use maud::{Markup, html};

pub use crate::file::FileFacts;
use crate::findings::{self, Said};
use crate::made::Made;
use crate::wide::wide;
use crate::{numbers, page};

/// A mix, its export, and what lies between them.
#[derive(Debug, Clone, Copy)]
pub struct ComparePage<'a> {
    /// The file of the mix.
    pub mix: FileFacts<'a>,
    /// The file of the export.
    pub export: FileFacts<'a>,
    /// What was found.
    pub comparison: &'a Comparison,
    /// The audible band.
    pub edges: Edges,
    /// How the page was made.
    pub made: Made<'a>,
}

/// One page for one comparison.
#[must_use]
pub fn page(compare: &ComparePage) -> String {
    let comparison = compare.comparison;
    let names = [compare.mix.path, compare.export.path].map(page::file_name);
    let title = format!("Comparison of {} with {}", names[1], names[0]);
    let body = html! {
        article.sheet aria-labelledby="export-name" {
            h2 id="export-name" { (page::path(names[1])) }
            p.about { "against the mix " (page::path(names[0])) }
            (findings::headline(&headline(comparison)))
            (tolerances::outcome(comparison))
            (found("Audible", Concern::Audible, comparison))
            (steps(comparison))
            (found("Hidden", Concern::Hidden, comparison))
            (books(compare))
            (tiles(comparison))
            (tolerances::table(comparison))
            (ledger(comparison))
            (facts::way(comparison))
            (places::edits(comparison))
            (places::spots(comparison))
            (charts::residual(comparison))
            (charts::spectra(comparison))
            (over_time::section(comparison))
            (facts::files(compare))
            (tolerances::settings(compare))
        }
    };
    let title = page::Title { full: &title, kind: "Comparison of an export with its mix" };
    page::page(&title, &compare.made, body)
}

fn headline(comparison: &Comparison) -> Said {
    let word = comparison.verdict.word();
    let worst = comparison.findings.iter().map(|finding| finding.severity).max();
    let severity = match comparison.verdict {
        Verdict::Identical => Severity::Clear,
        Verdict::GainOnly | Verdict::Changed => worst.unwrap_or(Severity::Note),
        Verdict::CannotTell => worst.unwrap_or(Severity::Caution).max(Severity::Caution),
    };
    Said { severity, word, sentence: comparison.sentence.clone() }
}

/// The four figures that matter most of any export.
fn tiles(comparison: &Comparison) -> Markup {
    let gain = comparison.gain_db.map_or(Level::NONE, Level::from_db);
    let tile = |name: &str, level: String, unit: &str, of: &str| {
        html! {
            div { dt { (name) } dd { (level) " " span.unit { (unit) } span.of { (of) } } }
        }
    };
    html! {
        dl.tiles {
            (tile("Gain", numbers::difference(gain), "dB", "from mix to export"))
            (tile("Residual", numbers::level(comparison.residual_dbfs), "dBFS",
                "what is left once the mix is taken out"))
            (tile("Loudness", numbers::difference(comparison.loudness_change_lu), "LU",
                "change, integrated, whole band"))
            (tile("True peak", numbers::difference(comparison.true_peak_change_db), "dB",
                "change, whole band"))
        }
    }
}

/// The findings of one concern.
fn found(heading: &str, concern: Concern, comparison: &Comparison) -> Markup {
    headed(heading, &said(concern, comparison))
}

/// The findings on the files themselves, behind what is wrong with them.
fn books(compare: &ComparePage) -> Markup {
    let warned = |name: &str, warnings: &[String]| -> Vec<Said> {
        let said = |warning: &String| {
            let sentence = format!("{name}: {}", page::clean(warning));
            Said::new(Severity::Caution, sentence)
        };
        warnings.iter().map(said).collect()
    };
    let mut all = warned("Mix", compare.mix.warnings);
    all.extend(warned("Export", compare.export.warnings));
    all.extend(said(Concern::File, compare.comparison));
    headed("File", &all)
}

fn said(concern: Concern, comparison: &Comparison) -> Vec<Said> {
    let told = comparison.told(concern);
    told.map(|finding| Said::new(finding.severity, finding.sentence.clone())).collect()
}

fn headed(heading: &str, said: &[Said]) -> Markup {
    html! {
        @if !said.is_empty() {
            h3 { (heading) }
            (findings::list(said))
        }
    }
}

/// What to do.
fn steps(comparison: &Comparison) -> Markup {
    let steps: Vec<String> = comparison.steps().into_iter().map(str::to_owned).collect();
    html! {
        @if !steps.is_empty() {
            h3 { "What to do" }
            (findings::todo(&steps))
        }
    }
}

fn ledger(comparison: &Comparison) -> Markup {
    let levels = &comparison.levels;
    let rows = levels.mix.rows().into_iter().zip(levels.export.rows()).zip(levels.change.rows());
    let table = html! {
        table.narrow {
            caption { "Of all channels together, over the whole length of each file." }
            thead { tr {
                th.words scope="col" { "Reading" }
                th scope="col" { "Mix" }
                th scope="col" { "Export" }
                th scope="col" { "Change" }
            } }
            tbody { @for ((mix, export), change) in rows { (row(&mix, &export, &change)) } }
        }
    };
    html! { h3 { "Ledger" } (wide("Ledger", &table)) }
}

fn row(mix: &LevelRow, export: &LevelRow, change: &LevelRow) -> Markup {
    // A change of a level is in decibels or loudness units, which its unit tells but for the scale.
    let unit = match mix.unit {
        unit if unit == mix.change_unit => unit.to_owned(),
        unit => format!("{unit}, change in {}", mix.change_unit),
    };
    html! {
        tr {
            th scope="row" { (mix.name) " " span.unit { (unit) } }
            td { (numbers::level(mix.value)) }
            td { (numbers::level(export.value)) }
            td { b { (numbers::difference(change.value)) } }
        }
    }
}
