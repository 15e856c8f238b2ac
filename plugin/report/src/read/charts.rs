//! The charts of a reading, with their tables.

use ledgerline_measure::spectrum::SPECTRUM_POINTS;
use ledgerline_measure::words;
use maud::{Markup, html};

use super::{ReadPage, entries};
use crate::chart::{Figure, TimeAxis, Words, spectrum};
use crate::history::Course;
use crate::numbers;

/// Points of the spectrum to a row of its table.
const POINTS_A_ROW: usize = 3;

/// The course over time.
pub(super) fn history(file: &ReadPage, id: &str) -> Markup {
    let Some(last) = file.history.last() else { return html! {} };
    let marks = entries::marks(file);
    let course = Course {
        rows: file.history,
        time: TimeAxis::Length(last.time_s.max(0.1)),
        length_s: file.reading.time_s,
        target: file.view.target,
        ceiling_db: Some(file.view.ceiling_db),
        rms_offset_db: file.view.rms_reference.offset_db(),
        peak_window_s: None,
        entries: &marks,
        overs: &[],
    };
    html! {
        h3 { "History" }
        (course.figure(id))
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
