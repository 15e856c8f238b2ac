//! What is left of the export by frequency, and the spectra of both files, with their tables.

use ledgerline_measure::compare::Comparison;
use ledgerline_measure::compare::record::{SpectrumPoint, Third};
use ledgerline_measure::{Level, words};
use maud::{Markup, html};

use crate::chart::lines::{Across, Bars, Chart, Curve, Mark, Point};
use crate::chart::{Figure, Ink, Words};
use crate::numbers;

/// Most rows of a table of a comparison.
pub(super) const MOST_ROWS: usize = 120;
/// Upper over lower edge of a third-octave band, in the base-ten system of IEC 61260-1.
const THIRD: f64 = 1.258_925_411_794_167_3;
/// How far below the highest level a chart reaches at most, in dB.
const DEEPEST_DB: f64 = 150.0;

/// Edges of a vertical axis in steps of 10 dB around all finite levels.
pub(super) fn range(levels: impl Iterator<Item = Level>) -> (f64, f64) {
    let (low, high) = levels
        .filter_map(Level::finite)
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), db| (low.min(db), high.max(db)));
    if !high.is_finite() {
        return (-120.0, 0.0);
    }
    let high = ((high + 2.0) / 10.0).ceil() * 10.0;
    let low = ((low - 2.0) / 10.0).floor() * 10.0;
    (low.clamp(high - DEEPEST_DB, high - 40.0), high)
}

/// What is left of the export once the mix is taken out, by third-octave.
pub(super) fn residual(comparison: &Comparison) -> Markup {
    let thirds = &comparison.charts.thirds;
    if thirds.is_empty() {
        return html! {};
    }
    let bands = |level: fn(&Third) -> Level| {
        thirds.iter().map(|third| (third.hz, level(third).finite())).collect::<Vec<Point>>()
    };
    let ends = [thirds[0].hz, thirds[thirds.len() - 1].hz];
    let chart = Chart {
        across: Across::Frequency(ends[0] / THIRD.sqrt(), ends[1] * THIRD.sqrt()),
        range: range(thirds.iter().flat_map(|third| [third.mix_dbfs, third.residual_dbfs])),
        unit: "level of a band (dBFS)",
        bars: vec![
            Bars {
                ink: Ink::Residual,
                fill: Some(Ink::ResidualFill),
                bands: bands(|third| third.residual_dbfs),
                ratio: THIRD,
            },
            Bars {
                ink: Ink::Whole,
                fill: None,
                bands: bands(|third| third.mix_dbfs),
                ratio: THIRD,
            },
        ],
        curves: vec![],
        end: None,
        decimals: 0,
    };
    let words = Words {
        id: "residual".into(),
        title: "Residual by third-octave".into(),
        description: format!(
            "Level of the residual in each third-octave band, {:.1} dBFS in total, under the level \
             of the mix. The table below the chart has the numbers.",
            comparison.residual_dbfs
        ),
    };
    let table = html! {
        table {
            caption { "Third-octave bands, base ten." }
            thead { tr {
                th scope="col" { "Band" span.unit { "Hz" } }
                th scope="col" { "Mix" span.unit { "dBFS" } }
                th scope="col" { "Export" span.unit { "dBFS" } }
                th scope="col" { "Residual" span.unit { "dBFS" } }
            } }
            tbody { @for third in thirds { tr {
                th scope="row" { (words::hertz(third.hz)) }
                td { (numbers::level(third.mix_dbfs)) }
                td { (numbers::level(third.export_dbfs)) }
                td { (numbers::level(third.residual_dbfs)) }
            } } }
        }
    };
    let figure = Figure {
        caption: html! {
            b { "By third-octave" }
            ": what is left of the export once the mix, aligned and with its gain, is taken out"
        },
        key: vec![(Ink::ResidualFill, "residual, filled"), (Ink::Whole, "mix")],
        drawing: chart.draw(&words),
        table_label: "Residual as a table".into(),
        table,
    };
    html! { h3 { "Residual" } (figure.markup()) }
}

/// Mean spectra of both files.
pub(super) fn spectra(comparison: &Comparison) -> Markup {
    let points = &comparison.charts.spectrum;
    if points.is_empty() {
        return html! {};
    }
    let levels = points.iter().flat_map(|point| [point.mix_dbfs, point.export_dbfs]);
    let (low, high) = range(levels);
    let curve = |level: fn(&SpectrumPoint) -> Level| {
        // Silence lies on the lower edge.
        points.iter().map(|point| (point.hz, level(point).db())).collect::<Vec<Point>>()
    };
    let end = comparison
        .band_limit_hz
        .map(|hz| Mark { hz, name: format!("the export ends at {}", words::frequency(hz)) });
    let mut key = vec![(Ink::Export, "export"), (Ink::Whole, "mix")];
    if end.is_some() {
        key.push((Ink::HiddenGround, "above the end of the export's spectrum"));
    }
    let chart = Chart {
        across: Across::Frequency(points[0].hz, points[points.len() - 1].hz),
        range: (low.max(high - 120.0), high),
        unit: "mean level of a band (dBFS)",
        bars: vec![],
        curves: vec![
            Curve { ink: Ink::Export, fill: None, points: curve(|point| point.export_dbfs) },
            Curve { ink: Ink::Whole, fill: None, points: curve(|point| point.mix_dbfs) },
        ],
        end,
        decimals: 0,
    };
    let limit = comparison.band_limit_hz.map_or_else(
        || "Both end at the same frequency.".to_owned(),
        |hz| format!("That of the export ends at {}.", words::frequency(hz)),
    );
    let words = Words {
        id: "spectra".into(),
        title: "Mean spectra of mix and export".into(),
        description: format!("{limit} The table below the chart has the numbers."),
    };
    let figure = Figure {
        caption: html! {
            b { "Mean spectra" }
            " of the stretch that both files hold, in bands of a 24th of an octave"
        },
        key,
        drawing: chart.draw(&words),
        table_label: "Spectra as a table".into(),
        table: spectra_table(comparison),
    };
    html! { h3 { "Spectra" } (figure.markup()) }
}

fn spectra_table(comparison: &Comparison) -> Markup {
    let points = &comparison.charts.spectrum;
    let step = points.len().div_ceil(MOST_ROWS).max(1);
    html! {
        table {
            caption {
                @if step > 1 { "The highest of each " (step) " neighbouring bands." }
                @else { "Each band." }
            }
            thead { tr {
                th scope="col" { "Around" span.unit { "Hz" } }
                th scope="col" { "Mix" span.unit { "dBFS" } }
                th scope="col" { "Export" span.unit { "dBFS" } }
            } }
            tbody { @for points in points.chunks(step) {
                @let highest = |level: fn(&SpectrumPoint) -> Level| {
                    numbers::level(points.iter().map(level).fold(Level::NONE, Level::max))
                };
                tr {
                    th scope="row" { (words::hertz(points[points.len() / 2].hz)) }
                    td { (highest(|point| point.mix_dbfs)) }
                    td { (highest(|point| point.export_dbfs)) }
                }
            } }
        }
    }
}
