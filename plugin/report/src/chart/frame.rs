//! Axes, grid and titles, the same on every chart.

use std::ops::Range;

use plotters::backend::SVGBackend;
use plotters::chart::{ChartBuilder, ChartContext};
use plotters::coord::cartesian::Cartesian2d;
use plotters::coord::ranged1d::{DefaultFormatting, KeyPointHint, Ranged};

use super::{Area, DrawError, FINE, Ink};

/// Size of tick labels, in units of the page.
pub(crate) const LABEL_SIZE: f64 = 14.0;

/// An even axis that is labelled where it is told to be.
#[derive(Clone)]
pub(crate) struct Axis {
    range: Range<f64>,
    ticks: Vec<f64>,
}

impl Ranged for Axis {
    type FormatOption = DefaultFormatting;
    type ValueType = f64;

    fn map(&self, value: &f64, (first, last): (i32, i32)) -> i32 {
        let share = (value - self.range.start) / (self.range.end - self.range.start);
        first + (share * f64::from(last - first)).round() as i32
    }

    fn key_points<Hint: KeyPointHint>(&self, hint: Hint) -> Vec<f64> {
        // Lines of the grid only where there are labels.
        if hint.weight().allow_light_points() { vec![] } else { self.ticks.clone() }
    }

    fn range(&self) -> Range<f64> {
        self.range.clone()
    }
}

/// What curves are drawn on.
pub(crate) type Plot<'a, 'b> = ChartContext<'a, SVGBackend<'b>, Cartesian2d<Axis, Axis>>;

/// A pair of axes.
pub(crate) struct Frame<'a> {
    /// From the left to the right edge.
    pub x: Range<f64>,
    /// From the lower to the upper edge.
    pub y: Range<f64>,
    /// Where the horizontal axis is labelled.
    pub x_ticks: Vec<f64>,
    /// Where the vertical axis is labelled.
    pub y_ticks: Vec<f64>,
    /// How a place on the horizontal axis is written; none where the lane beneath has the labels.
    pub x_label: Option<&'a dyn Fn(f64) -> String>,
    /// How a place on the vertical axis is written; none where a neighbour has the labels.
    pub y_label: Option<&'a dyn Fn(f64) -> String>,
    /// What the horizontal axis measures, with its unit.
    pub x_title: &'a str,
    /// What the vertical axis measures, with its unit.
    pub y_title: &'a str,
    /// Space over the plot and to its right, in units of the page.
    pub margins: (i32, i32),
}

/// Space under and to the left of a plot, in units of the page.
pub(crate) const BELOW: i32 = 46;
/// See [`BELOW`].
pub(crate) const LEFT: i32 = 62;

impl Frame<'_> {
    /// Draws grid, axes, labels and titles, and returns what curves go on.
    pub(crate) fn on<'a, 'b>(&self, area: &'a Area<'b>) -> Result<Plot<'a, 'b>, DrawError> {
        let (above, right) = self.margins;
        let left = if self.y_label.is_some() { LEFT } else { 0 };
        let below = if self.x_label.is_some() { BELOW } else { 0 };
        let mut plot = ChartBuilder::on(area)
            .margin_top(above * FINE)
            .margin_right(right * FINE)
            .x_label_area_size(below * FINE)
            .y_label_area_size(left * FINE)
            .build_cartesian_2d(
                Axis { range: self.x.clone(), ticks: self.x_ticks.clone() },
                Axis { range: self.y.clone(), ticks: self.y_ticks.clone() },
            )?;
        let x_label = |x: &f64| self.x_label.map_or(String::new(), |label| label(*x));
        let y_label = |y: &f64| self.y_label.map_or(String::new(), |label| label(*y));
        let mut mesh = plot.configure_mesh();
        mesh.bold_line_style(Ink::Rule.line())
            .axis_style(Ink::Axis.line())
            .label_style(Ink::Quiet.words(LABEL_SIZE))
            .axis_desc_style(Ink::Quiet.words(LABEL_SIZE))
            .x_label_formatter(&x_label)
            .y_label_formatter(&y_label)
            .set_all_tick_mark_size(4 * FINE);
        if self.x_label.is_some() && !self.x_title.is_empty() {
            mesh.x_desc(self.x_title);
        }
        if self.y_label.is_some() {
            mesh.y_desc(self.y_title);
        }
        mesh.draw()?;
        Ok(plot)
    }
}
