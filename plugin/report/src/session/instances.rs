//! Several instances at a glance: which of them brings which hidden content.

use ledgerline_measure::{Level, words};
use maud::{Markup, html};

use super::{InstanceLog, anchor};
use crate::wide::wide;
use crate::{numbers, page};

/// The instance with the most stands out where the next has so much less, in dB.
const CLEARLY_DB: f64 = 1.0;

/// Hidden content by instance, with what stands out.
pub(super) fn section(logs: &[InstanceLog]) -> Markup {
    let table = html! {
        table {
            caption { "Hidden content by instance: RMS levels over all that each measured" }
            thead { tr {
                th.words scope="col" { "Instance" }
                th scope="col" { "Above" span.unit { "dBFS" } }
                th scope="col" { "Below" span.unit { "dBFS" } }
                th.words scope="col" { "Steady tones" }
                th scope="col" { "True peak" span.unit { "dBTP, whole" } }
                th scope="col" { "True peak" span.unit { "dBTP, audible" } }
                th scope="col" { "Room" span.unit { "dB, least" } }
                th scope="col" { (page::capital(words::AUDIBLE_ROOM)) span.unit { "dB, least" } }
                th scope="col" { "Overs" }
            } }
            tbody {
                @for (place, log) in logs.iter().enumerate() { (row(log, place)) }
            }
        }
    };
    html! {
        section.sheet aria-label="All instances" {
            @for sentence in sentences(logs) { p { (page::kept_together(&page::clean(&sentence))) } }
            (wide("Hidden content by instance", &table))
        }
    }
}

fn row(log: &InstanceLog, place: usize) -> Markup {
    html! {
        tr {
            th scope="row" { a href=(format!("#{}", anchor(place))) {
                (page::path(log.name()))
            } }
            td.is-hidden { (numbers::level(log.hidden.above_dbfs)) }
            td.is-hidden { (numbers::level(log.hidden.below_dbfs)) }
            td.words { (page::kept_together(&log.tones())) }
            td { (numbers::level(log.whole.true_peak_dbtp)) }
            td { (numbers::level(log.audible.true_peak_dbtp)) }
            td { (numbers::level(log.room.db)) }
            td { (numbers::level(log.audible_room.db)) }
            td { (words::count(Some(log.over_count()))) }
        }
    }
}

impl InstanceLog {
    /// Its steady tones in a line.
    #[must_use]
    pub fn tones(&self) -> String {
        let tones = self.hidden.tones.iter();
        let list: Vec<String> = tones
            .map(|tone| {
                format!("{} at {} dBFS", words::frequency(tone.hz), words::level(tone.dbfs, 1))
            })
            .collect();
        if list.is_empty() { words::NONE.to_owned() } else { list.join(", ") }
    }
}

/// Which of several instances brings the most above the audible band, and which the most below it.
#[must_use]
pub fn sentences(logs: &[InstanceLog]) -> Vec<String> {
    let above = sentence(logs, "above the audible band", |log| log.hidden.above_dbfs);
    let below = sentence(logs, "below the audible band", |log| log.hidden.below_dbfs);
    above.into_iter().chain(below).collect()
}

fn sentence(logs: &[InstanceLog], side: &str, level: fn(&InstanceLog) -> Level) -> Option<String> {
    let mut levels: Vec<(f64, &str)> =
        logs.iter().filter_map(|log| Some((level(log).finite()?, log.name()))).collect();
    levels.sort_by(|one, other| other.0.total_cmp(&one.0));
    let dbfs = |db: f64| format!("{} dBFS", words::fixed(db, 1));
    match levels[..] {
        [] => None,
        [(most, name)] => Some(format!("Only {name} holds something {side}: {}.", dbfs(most))),
        [(most, name), (next, other), ..] if most - next >= CLEARLY_DB => Some(format!(
            "{name} holds the most {side}: {}; next comes {other} with {}.",
            dbfs(most),
            dbfs(next)
        )),
        [(most, name), (next, other), ..] => Some(format!(
            "{name} and {other} hold about the same {side}: {} and {}.",
            dbfs(most),
            dbfs(next)
        )),
    }
}
