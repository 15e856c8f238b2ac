//! The steps: charts of the main detectors, and tables of all of them.

use ledgerline_measure::detector::Detector;
use ledgerline_measure::sum_test::{Audit, StepRecord};
use ledgerline_measure::words;
use maud::{Markup, html};

use super::rows;
use crate::chart::{Figure, Ink, Words, changes};
use crate::page;

/// What the marks of the chart mean.
const MARKS: &str = "Diamond: RMS. Triangle: sample peak. Upright line: what an ideal sum shows, \
                     and across it the tolerance. A ring marks what lies outside it; an arrow at the \
                     left edge points to what lies lower.";

/// Charts and tables of both bands.
pub(super) fn section(audit: &Audit, id: &str) -> Markup {
    let Some(reference) = audit.test.reference_step else { return html! {} };
    html! {
        h3 { "Steps" }
        p { "How far each reading moved against step " (reference) ", beside what an ideal sum moves it." }
        @for band in ["whole", "audible"] {
            h4 { (if band == "whole" { "Whole band" } else { "Audible band" }) }
            (figure(audit, id, band))
        }
    }
}

fn figure(audit: &Audit, id: &str, band: &str) -> Markup {
    let off = audit
        .steps
        .iter()
        .filter(|step| step.bands.get(band).is_some_and(|row| row.values().any(|m| !m.within)))
        .map(|step| step.step.to_string())
        .collect::<Vec<_>>();
    let outside = match off.as_slice() {
        [] => "Every reading lies within its tolerance.".to_owned(),
        [one] => format!("A reading of step {one} lies outside its tolerance."),
        several => {
            format!("Readings of steps {} lie outside their tolerance.", words::list(several))
        }
    };
    let words = Words {
        id: format!("{id}-{band}"),
        title: format!("Change of RMS and sample peak in each step, {band} band"),
        description: format!(
            "{outside} The table below the chart has the numbers of all detectors."
        ),
    };
    Figure {
        caption: html! { (MARKS) },
        key: vec![
            (Ink::Audible, "expected"),
            (Ink::AudibleFine, "tolerance"),
            (Ink::Off, "ring: outside the tolerance"),
        ],
        drawing: changes::draw(&words, audit, band),
        table_label: format!("All detectors, {band} band, as a table"),
        table: table(audit, band),
    }
    .markup()
}

fn table(audit: &Audit, band: &str) -> Markup {
    let first = audit.steps.first().and_then(|step| step.bands.get(band));
    let is_read = |detector: &Detector| first.is_some_and(|row| row.contains_key(detector.name()));
    let detectors: Vec<Detector> = Detector::ALL.into_iter().filter(is_read).collect();
    html! {
        table {
            caption { (rows::LEGEND) }
            thead { tr {
                th.words scope="col" { "Step" }
                th scope="col" { "Begins" span.unit { "s" } }
                @for detector in &detectors {
                    th scope="col" { (page::capital(detector.word())) span.unit { "dB" } }
                }
            } }
            tbody { @for step in &audit.steps { (row(step, band, &detectors)) } }
        }
    }
}

fn row(step: &StepRecord, band: &str, detectors: &[Detector]) -> Markup {
    html! {
        tr {
            th scope="row" { (step.step) " " (page::clean(step.name)) }
            td { (words::fixed(step.start_s, 2)) }
            @for detector in detectors {
                @let row = step.bands.get(band);
                @if let Some(measure) = row.and_then(|row| row.get(detector.name())) {
                    td.off[!measure.within] { (rows::cell(measure)) }
                } @else { td { "–" } }
            }
        }
    }
}
