//! The page of one reading or several, in the order of questions: the sentence and what to do; how far
//! the level can go now and after filters; what happened when; what takes the room; then the tables,
//! and last what it takes to read the same again.

mod account;
mod advice;
mod charts;
mod entries;
mod hidden;
mod ledger;
mod level;
mod order;
mod summary;

use ledgerline_measure::entries::EntryList;
use ledgerline_measure::reading::Reading;
use ledgerline_measure::{HistoryRow, Settings, Spectrum, View};
use maud::{Markup, html};

pub use crate::file::FileFacts;
use crate::findings::{self, Said};
use crate::made::Made;
use crate::{page, settings};

pub use order::{by_need, worst_first};

/// One file, or whatever else was read.
#[derive(Debug, Clone, Copy)]
pub struct ReadPage<'a> {
    /// What was read.
    pub file: FileFacts<'a>,
    /// All readings.
    pub reading: &'a Reading,
    /// The spectrum, of which the mean is drawn.
    pub spectrum: &'a Spectrum,
    /// The course over time, oldest first; none where it was not kept.
    pub history: &'a [HistoryRow],
    /// Stretches between level steps and marks; none where they were not looked for.
    pub entries: &'a EntryList,
    /// How it was measured.
    pub settings: Settings,
    /// How it was read.
    pub view: View,
}

/// One page for one file, or for several: those that need attention most come first.
#[must_use]
pub fn page(files: &[ReadPage], made: &Made) -> String {
    page_with(files, &[], made)
}

/// The same with the files that could not be read: a sentence each, with the file's name.
#[must_use]
pub fn page_with(files: &[ReadPage], unread: &[String], made: &Made) -> String {
    let order = worst_first(files);
    let of_all = format!("Readings of {} files, worst first", files.len());
    let (full, kind) = match files {
        [] => ("Reading of no file".to_owned(), "Reading"),
        [file] => (format!("Reading of {}", page::file_name(file.file.path)), "Reading"),
        _ => (of_all.clone(), of_all.as_str()),
    };
    let body = html! {
        @if files.is_empty() { p { "There was nothing to read." } }
        @if files.len() > 1 { (summary::table(files, &order)) }
        (summary::unread(unread))
        @for (place, &index) in order.iter().take(SHEETS).enumerate() {
            (sheet(&files[index], place, made))
        }
    };
    page::page(&page::Title { full: &full, kind }, made, body)
}

/// Files that have a part of their own: a browser takes long over more, and nobody reads them.
const SHEETS: usize = 40;

/// How the part of a file is called in links.
fn anchor(place: usize) -> String {
    format!("file-{}", place + 1)
}

fn sheet(file: &ReadPage, place: usize, made: &Made) -> Markup {
    let id = anchor(place);
    html! {
        article.sheet id=(id) aria-labelledby=(format!("{id}-name")) {
            h2 id=(format!("{id}-name")) { (page::path(page::file_name(file.file.path))) }
            p.about { (file.file.line(file.reading.time_s)) }
            (first(file))
            (findings::todo(&advice::steps(file.reading)))
            (level::tiles(file))
            (further(file))
            (charts::history(file, &id))
            (account::section(file))
            (your_meter(file.reading))
            (ledger::section(file))
            (hidden::halves(file))
            (hidden::section(file))
            (charts::spectrum(file, &id))
            (entries::section(file))
            (settings::section(&settings::Repeat {
                path: file.file.path,
                settings: file.settings,
                view: file.view,
                made: *made,
            }))
        }
    }
}

/// The findings as sentences; what is wrong with the file itself comes behind its faults.
fn said(file: &ReadPage) -> Vec<Said> {
    let findings = file.reading.findings.as_slice().iter();
    findings.map(|finding| Said::new(finding.severity, finding.sentence())).collect()
}

fn first(file: &ReadPage) -> Markup {
    html! { @if let Some(first) = said(file).first() { (findings::headline(first)) } }
}

fn further(file: &ReadPage) -> Markup {
    use ledgerline_measure::verdict::Severity::Caution;
    let warnings = file.file.warnings.iter();
    let warnings = warnings.map(|warning| Said::new(Caution, page::clean(warning)));
    let rest: Vec<Said> = warnings.chain(said(file).into_iter().skip(1)).collect();
    html! {
        @if !rest.is_empty() {
            h3 { "Further findings" }
            (findings::list(&rest))
        }
    }
}

/// What the user's own meter shows of it, where that is known.
fn your_meter(reading: &Reading) -> Markup {
    html! {
        @if let Some(read) = &reading.your_meter {
            h3 { "Your meter" }
            p { (page::kept_together(&read.summary(reading))) }
        }
    }
}
