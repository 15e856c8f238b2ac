//! The page of a sum test: the answer first, what to do, the grades against their limits; then the
//! evidence, how each detector's reading moved beside what an ideal sum moves it; then which meter the
//! mixer has. Of several recordings, how they compare stands before all of that.

mod meter;
pub mod rows;
pub mod said;
pub mod side_by_side;
mod steps;

use ledgerline_measure::sum_test::{Audit, Grade};
use ledgerline_measure::words;
use maud::{Markup, html};

use crate::findings::{self, Said};
use crate::made::Made;
use crate::wide::wide;
use crate::{file, numbers, page, settings};

/// One page for one audit, or for several side by side.
#[must_use]
pub fn page(audits: &[Audit], made: &Made) -> String {
    let of_all = format!("Sum test of {} recordings", audits.len());
    let (full, kind) = match audits {
        [audit] => (format!("Sum test of {}", page::file_name(name(audit))), "Sum test"),
        _ => (of_all.clone(), of_all.as_str()),
    };
    let body = html! {
        @if audits.len() > 1 { (comparison(audits)) }
        @for (place, audit) in audits.iter().enumerate() { (sheet(audit, place, made)) }
    };
    page::page(&page::Title { full: &full, kind }, made, body)
}

fn name(audit: &Audit) -> &str {
    audit.recording.path.as_deref().unwrap_or("the recording")
}

fn anchor(place: usize) -> String {
    format!("recording-{}", place + 1)
}

/// Several mixers side by side: how each compares with the first, then all figures, a column each.
fn comparison(audits: &[Audit]) -> Markup {
    let sums = side_by_side::rows(audits);
    html! {
        section.sheet aria-label="Side by side" {
            h2 { "Side by side" }
            @for against in audits.iter().filter_map(|audit| audit.against.as_ref()) {
                @let (severity, word) = said::outcome(against);
                @let sentence = page::clean(&against.sentence);
                (findings::headline(&Said { severity, word, sentence }))
            }
            @if !sums.is_empty() {
                (wide("Sums side by side", &columns(side_by_side::LEGEND, &sums, None)))
            }
            details {
                summary { "All figures side by side" }
                (wide("All figures side by side", &columns(rows::LEGEND, &rows::rows(audits), Some(anchor))))
            }
        }
    }
}

/// A table of rows of text, the first of them the headings, with where each column leads.
fn columns(
    legend: &str,
    rows: &[(String, Vec<String>)],
    leads_to: Option<fn(usize) -> String>,
) -> Markup {
    let (heading, rows) = rows.split_at(1.min(rows.len()));
    html! {
        table {
            caption { (legend) }
            thead { @for (name, cells) in heading { tr {
                th.words scope="col" { (page::capital(name)) }
                @for (place, cell) in cells.iter().enumerate() {
                    th scope="col" {
                        @if let Some(leads_to) = leads_to {
                            a href=(format!("#{}", leads_to(place))) { (page::clean(cell)) }
                        } @else { (page::clean(cell)) }
                    }
                }
            } } }
            tbody { @for (name, cells) in rows { tr {
                th scope="row" { (page::capital(name)) }
                @for cell in cells { td.off[cell.ends_with('!')] { (cell) } }
            } } }
        }
    }
}

fn sheet(audit: &Audit, place: usize, made: &Made) -> Markup {
    let id = anchor(place);
    let recording = &audit.recording;
    let (severity, word) = (said::severity(audit), audit.verdict.word());
    let others: Vec<Said> = said::others(audit)
        .into_iter()
        .map(|(severity, sentence)| Said::new(severity, sentence))
        .collect();
    html! {
        article.sheet id=(id) aria-labelledby=(format!("{id}-name")) {
            h2 id=(format!("{id}-name")) { (page::path(page::file_name(name(audit)))) }
            p.about {
                (file::channels(recording.channels)) " · "
                (words::frequency(f64::from(recording.sample_rate_hz))) " · "
                (words::duration(recording.duration_s))
            }
            (findings::headline(&Said { severity, word, sentence: said::answer(audit) }))
            (findings::todo(&said::actions(audit)))
            @if !others.is_empty() { (findings::list(&others)) }
            (grades(audit))
            (steps::section(audit, &id))
            (figures(audit))
            (meter::section(audit))
            (alignment(audit, made))
        }
    }
}

/// The figures behind the faults.
fn figures(audit: &Audit) -> Markup {
    if audit.faults.is_empty() {
        return html! {};
    }
    html! {
        details {
            summary { "The figures behind what was found" }
            table {
                caption { "As the record names them; each name ends in its unit." }
                thead { tr {
                    th.words scope="col" { "Fault" }
                    th.words scope="col" { "Figure" }
                    th scope="col" { "Value" }
                } }
                tbody { @for fault in &audit.faults { @for (figure, value) in &fault.numbers { tr {
                    th scope="row" { (page::capital(fault.code.word())) }
                    td.words { (figure) }
                    td { (words::fixed(*value, 4)) }
                } } } }
            }
        }
    }
}

/// What was graded, with its uncertainty and its limit.
fn grades(audit: &Audit) -> Markup {
    if audit.grades.is_empty() {
        return html! {};
    }
    let limit = |grade: &Grade| grade.limit.map_or_else(|| "–".to_owned(), |x| words::fixed(x, 2));
    let table = html! {
        table {
            caption { "Limits " (rows::limits(audit)) "; ! marks what lies outside." }
            thead { tr {
                th.words scope="col" { "What" }
                th scope="col" { "Value" }
                th scope="col" { "±" }
                th scope="col" { "Limit" }
            } }
            tbody { @for grade in &audit.grades { tr {
                th scope="row" { (page::capital(grade.code.word())) }
                td.off[!grade.within] { (rows::grade(grade)) }
                td { (rows::uncertainty(grade)) }
                td { (limit(grade)) }
            } } }
        }
    };
    html! {
        h3 { "Graded" }
        (wide("What is graded", &table))
    }
}

fn alignment(audit: &Audit, made: &Made) -> Markup {
    let alignment = audit.alignment;
    let value = |text: String, unit: &str| html! { (text) " " span.unit { (unit) } };
    let floor = |band: &str| {
        audit
            .recording
            .floor_dbfs
            .get(band)
            .map_or_else(|| "–".into(), |level| format!("{level:.1}"))
    };
    let drift = words::signed(alignment.drift_ppm, 2);
    let rows = [
        ("Test", html! { (rows::test(audit)) }),
        ("Test begins", value(words::fixed(alignment.delay_s, 4), "s into the recording")),
        ("Gain", value(numbers::difference(alignment.gain_db), "dB")),
        ("Clock", value(drift, "ppm against the feeds")),
        ("Polarity", html! { (alignment.polarity.word()) }),
        ("Noise floor, whole band", value(floor("whole"), "dBFS RMS")),
        ("Noise floor, audible band", value(floor("audible"), "dBFS RMS")),
        ("Sample rate", value(audit.recording.sample_rate_hz.to_string(), "Hz")),
    ];
    let mut again = vec![("Recording", page::path(name(audit)))];
    again.extend(settings::made_by(made));
    html! {
        h3 { "Recording and settings" }
        div.pair {
            (page::facts("How the recording lies against the test", &rows))
            (page::facts("To judge the same again", &again))
        }
    }
}
