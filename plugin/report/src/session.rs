//! The page of a session: what the logs of its instances say, on one axis of time. With several
//! instances, which of them brings which hidden content comes first.

mod entries;
mod instances;
mod log;
mod readings;

use ledgerline_measure::verdict::Severity;
use ledgerline_measure::words;
use maud::{Markup, html};

use crate::chart::{Mark, SHORTEST_CLOCK_S, TimeAxis};
use crate::findings::{self, Said};
use crate::history::Course;
use crate::made::Made;
use crate::settings;
use crate::utc::Utc;
use crate::{numbers, page};

pub use instances::sentences;
pub use log::{
    Change, Entry, HiddenContent, HiddenTone, Highest, InstanceLog, Least, LoggedFinding, Overs,
    Stretch,
};
pub use readings::ROWS;

/// One page for all logs, in the order given.
#[must_use]
pub fn page(logs: &[InstanceLog], made: &Made) -> String {
    let title = match logs {
        [] => "Session of no instance".to_owned(),
        [log] => format!("Session of {}", log.name()),
        logs => format!("Session of {} instances", logs.len()),
    };
    let mut again: Vec<_> = logs.iter().map(|log| ("Log", page::path(&log.path))).collect();
    again.extend(settings::made_by(made));
    let body = html! {
        @if logs.is_empty() { p { "There was nothing to read." } }
        @if logs.len() > 1 { (instances::section(logs)) }
        @if let Some(time) = axis(logs) {
            @for (place, log) in logs.iter().enumerate() { (sheet(log, place, time)) }
        }
        section.sheet aria-label="How this page came about" {
            (page::facts("To read the same again", &again))
        }
    };
    page::page(&page::Title { full: &title, kind: "Session" }, made, body)
}

/// The axis that all instances share.
fn axis(logs: &[InstanceLog]) -> Option<TimeAxis> {
    let [first, rest @ ..] = logs else { return None };
    let mut edges = (first.from, first.to);
    for log in rest {
        edges.0.unix_s = edges.0.unix_s.min(log.from.unix_s);
        edges.1.unix_s = edges.1.unix_s.max(log.to.unix_s);
    }
    let (from, to) = edges;
    Some(TimeAxis::Clock(from, from.plus(to.since(from).max(SHORTEST_CLOCK_S))))
}

/// How the part of an instance is called in links.
fn anchor(place: usize) -> String {
    format!("log-{}", place + 1)
}

fn sheet(log: &InstanceLog, place: usize, time: TimeAxis) -> Markup {
    let id = anchor(place);
    html! {
        article.sheet id=(id) aria-labelledby=(format!("{id}-name")) {
            h2 id=(format!("{id}-name")) { (page::path(log.name())) }
            p.about { (log.line()) }
            (said(log))
            (history(log, &id, time))
            (readings::section(log))
            (entries::section(log))
            (readings::overs(log))
            (readings::hidden(log))
            (readings::stretches(log))
        }
    }
}

fn history(log: &InstanceLog, id: &str, time: TimeAxis) -> Markup {
    if log.rows.is_empty() {
        return html! {};
    }
    let range = time.range();
    let is_on_axis =
        |entry: &&Entry| entry.to.unix_s >= range.start && entry.from.unix_s <= range.end;
    let mut entries: Vec<Mark> = log
        .entries
        .iter()
        .filter(is_on_axis)
        .map(|entry| Mark {
            at: entry.from.unix_s.max(range.start),
            name: entry.number.to_string(),
            is_users: entry.is_marked(),
        })
        .collect();
    entries.sort_by(|one, other| one.at.total_cmp(&other.at));
    let overs: Vec<f64> = log.overs.iter().map(|overs| overs.at.unix_s).collect();
    let course = Course {
        rows: &log.rows,
        time,
        length_s: log.to.since(log.from),
        target: log.target,
        ceiling_db: log.ceiling_db,
        rms_offset_db: 0.0,
        peak_window_s: log.peak_window_s,
        entries: &entries,
        overs: &overs,
    };
    html! {
        h3 { "History" }
        (course.figure(id))
    }
}

/// The findings, with what is wrong with the log itself behind its faults.
fn said(log: &InstanceLog) -> Markup {
    let warnings = log.warnings.iter();
    let warnings = warnings.map(|warning| Said::new(Severity::Caution, page::clean(warning)));
    let of_readings = log.findings.iter().map(|finding| {
        let sentence =
            format!("{} ({} UTC)", page::clean(&finding.sentence), log.moment(finding.at));
        Said::new(finding.severity, sentence)
    });
    let mut all: Vec<Said> = of_readings.chain(warnings).collect();
    all.sort_by_key(|said| std::cmp::Reverse(said.severity));
    html! { @if !all.is_empty() { (findings::list(&all)) } }
}

impl InstanceLog {
    /// What it is called.
    #[must_use]
    pub fn name(&self) -> &str {
        page::file_name(&self.path)
    }

    /// From when to when it goes, what of that was measured, and how, in a line.
    #[must_use]
    pub fn line(&self) -> String {
        let (from, to) = (self.from, self.to);
        let days = if from.date() == to.date() { String::new() } else { format!("{} ", to.date()) };
        let mut parts =
            vec![format!("{} {} to {days}{} UTC", from.date(), from.clock(), to.clock())];
        parts.extend(self.host_s.map(|(first, last)| {
            format!("host {} to {}", numbers::moment(first), numbers::moment(last))
        }));
        parts.push(format!("{} measured", words::duration(self.measured_s)));
        let resets = self.stretches.len().saturating_sub(1) as u64;
        let pauses = self.pauses;
        parts.extend((pauses > 0).then(|| words::counted(pauses, "pause", "pauses")));
        parts.extend((resets > 0).then(|| words::counted(resets, "reset", "resets")));
        parts.extend(self.sample_rate_hz.map(words::frequency));
        parts.join(" · ")
    }

    /// A moment of it, as it is written where the log's own days are known.
    #[must_use]
    pub fn moment(&self, at: Utc) -> String {
        at.between(self.from, self.to)
    }

    /// Overs in all.
    #[must_use]
    pub fn over_count(&self) -> u64 {
        self.overs.iter().fold(0, |sum, overs| sum.saturating_add(overs.count))
    }

    /// Of the worst finding.
    #[must_use]
    pub fn severity(&self) -> Severity {
        let severities = self.findings.iter().map(|finding| finding.severity);
        severities.max().unwrap_or(Severity::Clear)
    }
}
