//! The page of one reading or several: the sentence first, then what to do, the other findings, the
//! ledger, the course over time, the spectrum, and last what it takes to read the same again.

mod advice;
mod charts;
mod entries;
mod hidden;
mod ledger;
mod order;
mod summary;

use ledgerline_measure::entries::EntryList;
use ledgerline_measure::reading::Reading;
use ledgerline_measure::{HistoryRow, Settings, Spectrum, View, words};
use maud::{Markup, html};

pub use crate::file::FileFacts;
use crate::findings::{self, Said};
use crate::{numbers, page, settings};

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
    /// The command that makes the page again, if a command made it.
    pub command: Option<&'a str>,
}

/// One page for one file, or for several: those that need attention most come first.
#[must_use]
pub fn page(files: &[ReadPage]) -> String {
    let order = worst_first(files);
    let title = match files {
        [] => "Reading of no file".to_owned(),
        [file] => format!("Reading of {}", page::file_name(file.file.path)),
        files => format!("Readings of {} files, worst first", files.len()),
    };
    let body = html! {
        @if files.is_empty() { p { "There was nothing to read." } }
        @if files.len() > 1 { (summary::table(files, &order)) }
        @for (place, &index) in order.iter().enumerate() { (sheet(&files[index], place)) }
    };
    page::page(&title, &body)
}

/// How the part of a file is called in links.
fn anchor(place: usize) -> String {
    format!("file-{}", place + 1)
}

fn sheet(file: &ReadPage, place: usize) -> Markup {
    let id = anchor(place);
    html! {
        article.sheet id=(id) aria-labelledby=(format!("{id}-name")) {
            h2 id=(format!("{id}-name")) { (page::path(file.file.path)) }
            p.about { (file.file.line(file.reading.time_s)) }
            (first(file))
            (tiles(file))
            (to_do(file))
            (further(file))
            (ledger::section(file))
            (hidden::halves(file))
            (hidden::section(file))
            (hidden::room(file))
            (charts::history(file, &id))
            (entries::section(file))
            (charts::spectrum(file, &id))
            (settings::section(&settings::Repeat {
                settings: file.settings,
                view: file.view,
                command: file.command,
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

fn to_do(file: &ReadPage) -> Markup {
    let steps = advice::steps(file.reading);
    html! {
        @if !steps.is_empty() {
            h3 { "What to do" }
            ol.todo { @for step in &steps { li { (step) } } }
        }
    }
}

/// The four figures that the sentence is about.
fn tiles(file: &ReadPage) -> Markup {
    let room = &file.reading.room;
    let target = room.target.map_or_else(
        || "no target".to_owned(),
        |target| {
            format!("of {} to the target, {}", numbers::difference(room.lift_db), target.words())
        },
    );
    let tile = |class: &str, name: &str, level: String, unit: &str, of: &str| {
        html! {
            div class=(class) {
                dt { (page::capital(name)) }
                dd { (level) " " span.unit { (unit) } span.of { (of) } }
            }
        }
    };
    let ceiling = format!("{} dB", words::fixed(room.ceiling_db, 1));
    let shown = format!("ceiling {ceiling} less the largest sample");
    let real = format!("ceiling {ceiling} less the audible true peak");
    let lift = room.lift_unit();
    let allowed = numbers::difference(room.lift_allowed_db);
    let withheld = numbers::withheld(room.withheld_db);
    html! {
        dl.tiles {
            (tile("", words::ROOM, numbers::level(room.room_db), "dB", &shown))
            (tile("is-audible", words::AUDIBLE_ROOM, numbers::level(room.true_room_db), "dB", &real))
            (tile("is-hidden", withheld.word, withheld.number, "dB", "audible room less room"))
            (tile("is-audible", words::LIFT_ALLOWED, allowed, lift, &target))
        }
    }
}
