//! The page of a sum test: the verdict first, what is wrong, how each detector's reading moved
//! beside what an ideal sum moves it, and which meter the mixer has.

mod meter;
pub mod rows;
mod steps;

use ledgerline_measure::sum_test::{Audit, Grade, Verdict};
use ledgerline_measure::verdict::Severity;
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

/// Several mixers side by side, a column each.
fn comparison(audits: &[Audit]) -> Markup {
    let rows = rows::rows(audits);
    let (heading, rows) = rows.split_at(1.min(rows.len()));
    let table = html! {
        table {
            caption { (rows::LEGEND) }
            thead { @for (name, cells) in heading { tr {
                th.words scope="col" { (name) }
                @for (place, cell) in cells.iter().enumerate() {
                    th scope="col" {
                        a href=(format!("#{}", anchor(place))) { (page::clean(cell)) }
                    }
                }
            } } }
            tbody { @for (name, cells) in rows { tr {
                th scope="row" { (name) }
                @for cell in cells { td.off[cell.ends_with('!')] { (cell) } }
            } } }
        }
    };
    html! {
        section.sheet aria-label="Side by side" {
            h2 { "Side by side" }
            (wide("Side by side", &table))
        }
    }
}

fn sheet(audit: &Audit, place: usize, made: &Made) -> Markup {
    let id = anchor(place);
    let recording = &audit.recording;
    html! {
        article.sheet id=(id) aria-labelledby=(format!("{id}-name")) {
            h2 id=(format!("{id}-name")) { (page::path(page::file_name(name(audit)))) }
            p.about {
                (file::channels(recording.channels)) " · "
                (words::frequency(f64::from(recording.sample_rate_hz))) " · "
                (words::duration(recording.duration_s))
            }
            (findings::headline(&verdict(audit)))
            (faults(audit))
            (grades(audit))
            (meter::section(audit))
            (steps::section(audit, &id))
            (alignment(audit, made))
        }
    }
}

fn verdict(audit: &Audit) -> Said {
    let severity = match audit.verdict {
        Verdict::SumsCorrectly if !audit.is_within_limits() => Severity::Caution,
        Verdict::SumsCorrectly => Severity::Clear,
        Verdict::Faulty => Severity::Fault,
        Verdict::CannotTell => Severity::Caution,
    };
    Said { severity, word: audit.verdict.word(), sentence: audit.sentence.clone() }
}

/// Every fault in a sentence, with the figures behind it.
fn faults(audit: &Audit) -> Markup {
    if audit.faults.is_empty() {
        return html! {};
    }
    let severity = |spoils: bool| if spoils { Severity::Fault } else { Severity::Note };
    let said: Vec<Said> = audit
        .faults
        .iter()
        .map(|fault| Said::new(severity(fault.code.spoils_sum()), fault.sentence.clone()))
        .collect();
    html! {
        h3 { "What was found" }
        (findings::list(&said))
        details {
            summary { "The figures behind it" }
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

/// What was graded, with its limits.
fn grades(audit: &Audit) -> Markup {
    if audit.grades.is_empty() {
        return html! {};
    }
    let limit = |grade: &Grade| grade.limit.map_or_else(|| "–".to_owned(), |x| words::fixed(x, 2));
    html! {
        h3 { "Graded" }
        table {
            caption { "Limits " (rows::limits(audit)) "; ! marks what lies outside." }
            thead { tr {
                th.words scope="col" { "What" }
                th scope="col" { "Value" }
                th scope="col" { "Limit" }
                th.words scope="col" { "In words" }
            } }
            tbody { @for grade in &audit.grades { tr {
                th scope="row" { (page::capital(grade.code.word())) }
                td.off[!grade.within] { (rows::grade(grade)) }
                td { (limit(grade)) }
                td.words { (grade.sentence) }
            } } }
        }
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
