//! The charts of a reading, with their tables.

use ledgerline_measure::spectrum::SPECTRUM_POINTS;
use ledgerline_measure::{Level, TargetKind, words};
use maud::{Markup, html};

use super::ReadPage;
use crate::chart::history::{Chart, Curve, Get, Limit, step_s};
use crate::chart::{Figure, Ink, Words, spectrum};
use crate::numbers;

/// Most rows of a table of the history.
const MOST_ROWS: usize = 120;
/// Points of the spectrum to a row of its table.
const POINTS_A_ROW: usize = 3;

/// The course over time: loudness, sample peaks, and RMS where that is aimed at.
pub(super) fn history(file: &ReadPage, id: &str) -> Markup {
    if file.history.is_empty() {
        return html! {};
    }
    html! {
        h3 { "History" }
        (loudness(file, id))
        (peaks(file, id))
        @if file.view.target.kind == TargetKind::Rms { (rms(file, id)) }
    }
}

/// The line of the target, on the chart of its kind.
fn target(file: &ReadPage, kind: TargetKind) -> Option<Limit> {
    let target = file.view.target;
    (target.kind == kind).then(|| Limit {
        ink: Ink::Target,
        level: target.value,
        name: format!("target {}", words::fixed(target.value, 1)),
    })
}

fn loudness(file: &ReadPage, id: &str) -> Markup {
    let target = target(file, TargetKind::Loudness);
    let mut key = vec![
        (Ink::Whole, "short-term, whole band"),
        (Ink::Audible, "short-term, audible band"),
        (Ink::HiddenGround, "between them: hidden"),
        (Ink::WholeFine, "momentary, whole band"),
        (Ink::AudibleFine, "momentary, audible band"),
    ];
    if target.is_some() {
        key.push((Ink::Target, "target"));
    }
    let words = Words {
        id: format!("{id}-loudness"),
        title: "Loudness over time".into(),
        description: summary(
            file,
            |levels| levels.short_term_lufs,
            0.0,
            "Short-term loudness",
            "LUFS",
        ),
    };
    let chart = Chart {
        rows: file.history,
        main: Curve { get: |l| l.short_term_lufs, whole: Ink::Whole, audible: Ink::Audible },
        behind: Some(Curve {
            get: |l| l.momentary_lufs,
            whole: Ink::WholeFine,
            audible: Ink::AudibleFine,
        }),
        limit: target,
        unit: "loudness (LUFS)",
        offset_db: 0.0,
    };
    let columns: [(&str, Get); 2] = [
        ("Short-term", |levels| levels.short_term_lufs),
        ("Momentary", |levels| levels.momentary_lufs),
    ];
    Figure {
        caption: html! {
            b { "Loudness" } ", short-term (3 s) and momentary (400 ms), in LUFS"
            (thinned(file, true))
        },
        key,
        drawing: chart.draw(&words),
        table_label: "Loudness over time as a table".into(),
        table: table(file, &columns, "LUFS", 0.0),
    }
    .markup()
}

fn peaks(file: &ReadPage, id: &str) -> Markup {
    let ceiling = file.view.ceiling_db;
    let words = Words {
        id: format!("{id}-peaks"),
        title: "Sample peaks over time".into(),
        description: summary(file, |levels| levels.sample_peak_dbfs, 0.0, "Sample peak", "dBFS"),
    };
    let limit = Limit {
        ink: Ink::Ceiling,
        level: ceiling,
        name: format!("ceiling {}", words::fixed(ceiling, 1)),
    };
    let chart = Chart {
        rows: file.history,
        main: Curve { get: |l| l.sample_peak_dbfs, whole: Ink::Whole, audible: Ink::AudibleEdge },
        behind: None,
        limit: Some(limit),
        unit: "sample peak (dBFS)",
        offset_db: 0.0,
    };
    Figure {
        caption: html! {
            b { "Sample peaks" } ", the largest of each 100 ms, in dBFS" (thinned(file, false))
        },
        key: vec![
            (Ink::Whole, "whole band"),
            (Ink::AudibleFill, "audible band, filled"),
            (Ink::HiddenGround, "between them: hidden"),
            (Ink::Ceiling, "ceiling"),
        ],
        drawing: chart.draw(&words),
        table_label: "Sample peaks over time as a table".into(),
        table: table(file, &[("Sample peak", |levels| levels.sample_peak_dbfs)], "dBFS", 0.0),
    }
    .markup()
}

fn rms(file: &ReadPage, id: &str) -> Markup {
    let offset_db = file.view.rms_reference.offset_db();
    let words = Words {
        id: format!("{id}-rms"),
        title: "RMS over time".into(),
        description: summary(file, |levels| levels.rms_dbfs, offset_db, "RMS", "dBFS"),
    };
    let chart = Chart {
        rows: file.history,
        main: Curve { get: |l| l.rms_dbfs, whole: Ink::Whole, audible: Ink::AudibleEdge },
        behind: None,
        limit: target(file, TargetKind::Rms),
        unit: "RMS (dBFS)",
        offset_db,
    };
    Figure {
        caption: html! { b { "RMS" } " of each 100 ms, in dBFS" (thinned(file, false)) },
        key: vec![
            (Ink::Whole, "whole band"),
            (Ink::AudibleFill, "audible band, filled"),
            (Ink::HiddenGround, "between them: hidden"),
            (Ink::Target, "target"),
        ],
        drawing: chart.draw(&words),
        table_label: "RMS over time as a table".into(),
        table: table(file, &[("RMS", |levels| levels.rms_dbfs)], "dBFS", offset_db),
    }
    .markup()
}

/// What a drawing of a long history leaves out.
fn thinned(file: &ReadPage, has_band: bool) -> String {
    let Some(step_s) = step_s(file.history) else { return String::new() };
    let band =
        if has_band { "; the fill under the audible line reaches down to the lowest" } else { "" };
    format!(". Lines show the highest within each {}{band}.", words::duration(step_s))
}

/// What is to be seen in a chart of the history, in words.
fn summary(file: &ReadPage, get: Get, offset_db: f64, what: &str, unit: &str) -> String {
    let highest = |audible: bool| {
        let bands = file.history.iter().map(|row| if audible { &row.audible } else { &row.whole });
        bands.map(get).fold(Level::NONE, Level::max).plus(offset_db)
    };
    format!(
        "{what} over {}: at most {:.1} {unit} in the whole band and {:.1} {unit} in the \
         audible band. The table below the chart has the numbers.",
        words::duration(file.reading.time_s),
        highest(false),
        highest(true)
    )
}

/// The history at a step that keeps the table readable: the highest level within each step.
fn table(file: &ReadPage, columns: &[(&str, Get)], unit: &str, offset_db: f64) -> Markup {
    let rows = file.history;
    let step = rows.len().div_ceil(MOST_ROWS).max(1);
    let time = rows.first().map_or(0.1, |row| row.time_s);
    let step_s = time * step as f64;
    let highest = |rows: &[ledgerline_measure::HistoryRow], get: Get, audible: bool| {
        let bands = rows.iter().map(|row| if audible { &row.audible } else { &row.whole });
        numbers::level(bands.map(get).fold(Level::NONE, Level::max).plus(offset_db))
    };
    html! {
        table {
            caption {
                "In " (unit) ". Each row has the highest level of the "
                (words::duration(step_s)) " up to its time."
            }
            thead {
                tr {
                    th scope="col" rowspan="2" { "Time" span.unit { "min:s" } }
                    @for (name, _) in columns { th scope="colgroup" colspan="2" { (name) } }
                }
                tr { @for _ in columns {
                    th scope="col" { "whole" }
                    th scope="col" { "audible" }
                } }
            }
            tbody { @for rows in rows.chunks(step) {
                tr {
                    @let time = rows.last().map(|row| numbers::moment(row.time_s));
                    th scope="row" { (time.unwrap_or_default()) }
                    @for (_, get) in columns {
                        td { (highest(rows, *get, false)) }
                        td { (highest(rows, *get, true)) }
                    }
                }
            } }
        }
    }
}

/// The mean spectrum.
pub(super) fn spectrum(file: &ReadPage, id: &str) -> Markup {
    let edges = file.settings.edges;
    let (low, high) = (words::frequency(edges.low_hz()), words::frequency(edges.high_hz()));
    let hidden = &file.reading.hidden;
    let words = Words {
        id: format!("{id}-spectrum"),
        title: "Mean spectrum".into(),
        description: format!(
            "Mean spectrum of the bus from {} to {}. {} of the energy lies below {low}, \
             {} above {high}. The table below the chart has the numbers.",
            words::frequency(f64::from(file.spectrum.low_hz)),
            words::frequency(f64::from(file.spectrum.high_hz)),
            numbers::share(hidden.below_share),
            numbers::share(hidden.above_share)
        ),
    };
    let chart = spectrum::Chart {
        spectrum: file.spectrum,
        hidden,
        audible_dbfs: file.reading.audible.bus.rms_dbfs,
        edges,
    };
    let figure = Figure {
        caption: html! {
            b { "Mean over the whole length" }
            ", all channels together. A steady tone reads its RMS level. Hatched: hidden content; a \
             ring marks a steady tone."
        },
        key: vec![],
        drawing: chart.draw(&words),
        table_label: "Spectrum as a table".into(),
        table: spectrum_table(file),
    };
    html! { h3 { "Spectrum" } (figure.markup()) }
}

fn spectrum_table(file: &ReadPage) -> Markup {
    let spectrum = file.spectrum;
    let edges = file.settings.edges;
    let place = |hz: f64| match hz {
        hz if hz < edges.low_hz() => "below, hidden",
        hz if hz > edges.high_hz() => "above, hidden",
        _ => "audible",
    };
    let starts = (0..SPECTRUM_POINTS).step_by(POINTS_A_ROW);
    html! {
        table {
            caption { "The highest of each " (POINTS_A_ROW) " neighbouring points of the curve." }
            thead { tr {
                th scope="col" { "Around" span.unit { "Hz" } }
                th.words scope="col" { "Where" }
                th scope="col" { "Mean level" span.unit { "dBFS" } }
            } }
            tbody { @for start in starts {
                @let end = (start + POINTS_A_ROW).min(SPECTRUM_POINTS);
                @let hz = f64::from(spectrum.hz(start.midpoint(end - 1)));
                @let levels = spectrum.mean_dbfs[start..end].iter();
                @let level = levels.copied().fold(f32::NEG_INFINITY, f32::max);
                tr {
                    th scope="row" { (words::hertz(hz)) }
                    td.words { (place(hz)) }
                    td { (words::fixed(f64::from(level), 1)) }
                }
            } }
        }
    }
}
