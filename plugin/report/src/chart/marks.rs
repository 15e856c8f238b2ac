//! Moments on a chart over time: numbered lines, and overs at the upper edge.

use std::ops::Range;

use plotters::element::{PathElement, Text};
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::frame::LABEL_SIZE;
use super::{Area, DrawError, FINE, Ink, Plot};

/// Space over a plot for the names of marks, in units of the page.
pub(crate) const ABOVE: i32 = 30;
/// Least distance of two names, in units of the page.
const NAME_DISTANCE: i32 = 24;
/// Share of the height that the line of an over takes.
const OVER_HEIGHT: f64 = 0.06;

/// A moment that is worth a line.
pub(crate) struct Mark {
    /// Where on the axis of time.
    pub at: f64,
    /// Its name: a number.
    pub name: String,
    /// Whether the user set it.
    pub is_users: bool,
}

impl Mark {
    /// How its line is drawn.
    pub(crate) fn ink(&self) -> Ink {
        if self.is_users { Ink::Marked } else { Ink::Axis }
    }
}

/// Draws marks from edge to edge, with their names over the plot where it `is_first` of its lanes.
/// Where names would run into each other the first of them is written; where lines would, the first
/// is drawn.
pub(super) fn draw(
    area: &Area,
    plot: &mut Plot,
    marks: &[Mark],
    levels: Range<f64>,
    is_first: bool,
) -> Result<(), DrawError> {
    let (mut last_line, mut last_name) = (i32::MIN, i32::MIN);
    for mark in marks {
        let top = plot.plotting_area().map_coordinate(&(mark.at, levels.end));
        if top.0 < last_line.saturating_add(FINE) {
            continue;
        }
        last_line = top.0;
        let line = vec![(mark.at, levels.start), (mark.at, levels.end)];
        plot.draw_series([PathElement::new(line, mark.ink().line())])?;
        if is_first && top.0 >= last_name.saturating_add(NAME_DISTANCE * FINE) {
            last_name = top.0;
            let style = Ink::Text.words(LABEL_SIZE).pos(Pos::new(HPos::Center, VPos::Bottom));
            area.draw(&Text::new(mark.name.clone(), (top.0, top.1 - 4 * FINE), style))?;
        }
    }
    Ok(())
}

/// Draws overs as short lines down from the upper edge, one to a unit of the page.
pub(super) fn overs(plot: &mut Plot, overs: &[f64], levels: Range<f64>) -> Result<(), DrawError> {
    let foot = levels.end - OVER_HEIGHT * (levels.end - levels.start);
    let mut last = i32::MIN;
    for &at in overs {
        let x = plot.plotting_area().map_coordinate(&(at, levels.end)).0;
        if x >= last.saturating_add(FINE) {
            last = x;
            let line = vec![(at, levels.end), (at, foot)];
            plot.draw_series([PathElement::new(line, Ink::Off.line())])?;
        }
    }
    Ok(())
}
