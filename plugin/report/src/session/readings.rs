//! Tables of one instance: its highest readings, its overs, its hidden content, its resets.

use ledgerline_measure::{Level, words};
use maud::{Markup, html};

use super::{Highest, InstanceLog, Least};
use crate::wide::wide;
use crate::{numbers, page};

/// Most overs that a page lists.
const MOST_OVERS: usize = 200;

/// A row: name, unit, and where its level is.
type Row = (&'static str, &'static str, fn(&Highest) -> Level);

/// The highest readings, a row each.
pub const ROWS: [Row; 5] = [
    ("sample peak", "dBFS", |levels| levels.sample_peak_dbfs),
    ("true peak", "dBTP", |levels| levels.true_peak_dbtp),
    ("highest momentary", "LUFS", |levels| levels.momentary_max_lufs),
    ("highest short-term", "LUFS", |levels| levels.short_term_max_lufs),
    ("loudness range", "LU", |levels| levels.lra_lu),
];

pub(super) fn section(log: &InstanceLog) -> Markup {
    let highest = html! {
        table {
            caption {
                "The highest of the whole log, whatever was reset. The loudness range is that of one \
                 short-term reading a second."
            }
            thead { tr {
                th.words scope="col" { "What" }
                th.words scope="col" { "Unit" }
                th scope="col" { "Whole" }
                th scope="col" { "Audible" }
            } }
            tbody { @for (name, unit, level) in ROWS {
                tr {
                    th scope="row" { (page::capital(name)) }
                    td.words.unit { (unit) }
                    td.is-whole { (numbers::level(level(&log.whole))) }
                    td.is-audible { (numbers::level(level(&log.audible))) }
                }
            } }
        }
    };
    let least = |least: Least| {
        let at = least.at.map(|at| format!(" at {} UTC", log.moment(at)));
        html! { (numbers::level(least.db)) " " span.unit { "dB" } (at.unwrap_or_default()) }
    };
    let before = match log.overs_before {
        0 => String::new(),
        count => format!(", and {} from before the log began", words::count(Some(count))),
    };
    let facts = [
        (words::ROOM, least(log.room)),
        (words::AUDIBLE_ROOM, least(log.audible_room)),
        ("overs", html! { (words::count(Some(log.over_count()))) (before) }),
    ];
    html! {
        h3 { "Readings" }
        div.pair {
            (wide("Readings", &highest))
            (page::facts("Least room under the ceiling, when it was first so little, and overs", &facts))
        }
    }
}

pub(super) fn overs(log: &InstanceLog) -> Markup {
    if log.overs.is_empty() {
        return html! {};
    }
    let listed = &log.overs[..log.overs.len().min(MOST_OVERS)];
    let caption = match log.overs.len() - listed.len() {
        0 => "Seconds with overs".to_owned(),
        more => format!(
            "The first {} seconds with overs; {} more have some",
            words::count(Some(listed.len() as u64)),
            words::count(Some(more as u64))
        ),
    };
    let table = html! {
        table {
            caption { (caption) }
            thead { tr {
                th scope="col" { "Up to" span.unit { "UTC" } }
                th scope="col" { "Host" span.unit { "min:s" } }
                th scope="col" { "Overs" }
            } }
            tbody { @for overs in listed {
                tr {
                    th scope="row" { (log.moment(overs.at)) }
                    td { (host(overs.host_s)) }
                    td { (words::count(Some(overs.count))) }
                }
            } }
        }
    };
    html! { h3 { "Overs" } (wide("Overs", &table)) }
}

/// A place of the host's transport.
pub(super) fn host(seconds: Option<f64>) -> String {
    seconds.map_or_else(|| words::NONE.to_owned(), numbers::moment)
}

pub(super) fn hidden(log: &InstanceLog) -> Markup {
    let hidden = &log.hidden;
    let level = |level: Level| html! { (numbers::level(level)) " " span.unit { "dBFS" } };
    let levels = [
        ("above the audible band", level(hidden.above_dbfs)),
        ("below it", level(hidden.below_dbfs)),
    ];
    html! {
        h3 { "Hidden content" }
        div.pair {
            (page::facts("RMS level over all that was measured", &levels))
            @if hidden.tones.is_empty() {
                p { "No full reading names a steady tone." }
            } @else {
                table {
                    caption { "Steady tones of the full readings, strongest first" }
                    thead { tr {
                        th scope="col" { "Frequency" span.unit { "Hz" } }
                        th scope="col" { "Level" span.unit { "dBFS" } }
                        th scope="col" { "Read at" span.unit { "UTC" } }
                    } }
                    tbody { @for tone in &hidden.tones {
                        tr {
                            td { (words::hertz(tone.hz)) }
                            td { (numbers::level(tone.dbfs)) }
                            td { (log.moment(tone.at)) }
                        }
                    } }
                }
            }
        }
    }
}

/// Integrated loudness and hidden content between resets, where there was one.
pub(super) fn stretches(log: &InstanceLog) -> Markup {
    let table = html! {
        table {
            caption { "Readings since reset, each at the end of its stretch" }
            thead { tr {
                th scope="col" { "From" span.unit { "UTC" } }
                th scope="col" { "To" span.unit { "UTC" } }
                th scope="col" { "Since reset" span.unit { "min:s" } }
                th scope="col" { "Integrated" span.unit { "LUFS, whole" } }
                th scope="col" { "Integrated" span.unit { "LUFS, audible" } }
                th scope="col" { "Above" span.unit { "dBFS" } }
                th scope="col" { "Below" span.unit { "dBFS" } }
            } }
            tbody { @for stretch in &log.stretches {
                tr {
                    th scope="row" { (log.moment(stretch.from)) }
                    td { (log.moment(stretch.to)) }
                    td { (numbers::moment(stretch.time_s)) }
                    td { (numbers::level(stretch.whole_lufs)) }
                    td { (numbers::level(stretch.audible_lufs)) }
                    td { (numbers::level(stretch.above_dbfs)) }
                    td { (numbers::level(stretch.below_dbfs)) }
                }
            } }
        }
    };
    html! { h3 { "From reset to reset" } (wide("From reset to reset", &table)) }
}
