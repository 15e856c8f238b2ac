//! Levels and gain over the length of the export, with their tables.

use ledgerline_measure::compare::Comparison;
use ledgerline_measure::compare::record::TimePoint;
use ledgerline_measure::{Level, words};
use maud::{Markup, html};

use super::charts::{MOST_ROWS, range};
use crate::chart::lines::{Across, Chart, Curve, Point};
use crate::chart::{Figure, Ink, Words};
use crate::numbers;

/// Levels and gain over time.
pub(super) fn section(comparison: &Comparison) -> Markup {
    let points = &comparison.charts.time;
    let end = points.last().map_or(0.0, |point| point.export_s);
    if points.len() < 2 || end <= 0.0 {
        return html! {};
    }
    html! {
        h3 { "Over time" }
        (levels_over_time(comparison, points, end))
        (gain_over_time(points, end))
    }
}

fn levels_over_time(comparison: &Comparison, points: &[TimePoint], end: f64) -> Markup {
    let curve = |level: fn(&TimePoint) -> Level| {
        points.iter().map(|point| (point.export_s, level(point).db())).collect::<Vec<Point>>()
    };
    let levels = points.iter().flat_map(|point| [point.export_dbfs, point.residual_dbfs]);
    let chart = Chart {
        across: Across::Time(end),
        range: range(levels),
        unit: "level (dBFS)",
        bars: vec![],
        curves: vec![
            Curve {
                ink: Ink::Residual,
                fill: Some(Ink::ResidualFill),
                points: curve(|point| point.residual_dbfs),
            },
            Curve { ink: Ink::ExportFine, fill: None, points: curve(|point| point.export_dbfs) },
        ],
        end: None,
        decimals: 0,
    };
    let words = Words {
        id: "over-time".into(),
        title: "Export and residual over time".into(),
        description: format!(
            "Level of the export and of the residual, {:.1} dBFS in total. The table below the \
             chart has the numbers.",
            comparison.residual_dbfs
        ),
    };
    let step = points.len().div_ceil(MOST_ROWS).max(1);
    let table = html! {
        table {
            caption {
                @if step > 1 {
                    "Each row has the highest level of " (step) " neighbouring points, and the gain of \
                     the last of them."
                }
                @else { "In the time of the export." }
            }
            thead { tr {
                th scope="col" { "Time" span.unit { "min:s" } }
                th scope="col" { "Export" span.unit { "dBFS" } }
                th scope="col" { "Residual" span.unit { "dBFS" } }
                th scope="col" { "Gain" span.unit { "dB" } }
            } }
            tbody { @for points in points.chunks(step) {
                @let highest = |level: fn(&TimePoint) -> Level| {
                    numbers::level(points.iter().map(level).fold(Level::NONE, Level::max))
                };
                @let last = points[points.len() - 1];
                tr {
                    th scope="row" { (numbers::moment(last.export_s)) }
                    td { (highest(|point| point.export_dbfs)) }
                    td { (highest(|point| point.residual_dbfs)) }
                    td { (numbers::difference(last.gain_db.map_or(Level::NONE, Level::from_db))) }
                }
            } }
        }
    };
    Figure {
        caption: html! { b { "Levels" } " of export and residual, in the time of the export" },
        key: vec![(Ink::ExportFine, "export"), (Ink::ResidualFill, "residual, filled")],
        drawing: chart.draw(&words),
        table_label: "Levels and gain over time as a table".into(),
        table,
    }
    .markup()
}

fn gain_over_time(points: &[TimePoint], end: f64) -> Markup {
    let gains: Vec<f64> = points.iter().filter_map(|point| point.gain_db).collect();
    if gains.is_empty() {
        return html! {};
    }
    let lowest = gains.iter().copied().fold(f64::INFINITY, f64::min);
    let highest = gains.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    // A steady gain is a straight line, not the noise of its last decimals.
    let middle = f64::midpoint(lowest, highest);
    let half = ((highest - lowest) * 0.6).max(0.5);
    let curve = points.iter().map(|point| (point.export_s, point.gain_db)).collect();
    let chart = Chart {
        across: Across::Time(end),
        range: ((2.0 * (middle - half)).floor() / 2.0, (2.0 * (middle + half)).ceil() / 2.0),
        unit: "gain (dB)",
        bars: vec![],
        curves: vec![Curve { ink: Ink::ExportFine, fill: None, points: curve }],
        end: None,
        decimals: 1,
    };
    let words = Words {
        id: "gain".into(),
        title: "Gain over time".into(),
        description: format!(
            "Gain from mix to export, between {} and {} dB. The table of levels over time has the \
             numbers.",
            words::signed(lowest, 2),
            words::signed(highest, 2)
        ),
    };
    let table = html! {
        table {
            caption { "Over the whole export; the table of levels over time has the course." }
            thead { tr {
                th scope="col" { "Lowest" span.unit { "dB" } }
                th scope="col" { "Highest" span.unit { "dB" } }
            } }
            tbody { tr {
                td { (words::signed(lowest, 2)) }
                td { (words::signed(highest, 2)) }
            } }
        }
    };
    Figure {
        caption: html! {
            b { "Gain" } " from mix to export; a limiter or a moving fader shows here"
        },
        key: vec![],
        drawing: chart.draw(&words),
        table_label: "Range of the gain as a table".into(),
        table,
    }
    .markup()
}
