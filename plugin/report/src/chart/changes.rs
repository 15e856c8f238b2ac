//! The steps of a sum test: how far each detector's reading moved against step 1, beside what an
//! ideal sum moves it.

use ledgerline_measure::sum_test::{Audit, Measure};
use ledgerline_measure::words;
use plotters::element::{Circle, PathElement, Polygon, Text};
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::frame::{BELOW, LABEL_SIZE, LEFT};
use super::{Area, DrawError, FINE, Frame, Ink, Plot, WIDTH, Words, drawn, level_ticks};

/// Detectors that are drawn: the mark's shape, and the name in the record.
const SHOWN: [(Shape, &str); 2] = [(Shape::Diamond, "rms"), (Shape::Triangle, "sample_peak")];
/// Height of a step, in units of the page.
const ROW: i32 = 30;
/// Width of the steps' names, in units of the page.
const NAMES: i32 = 300;
/// Space over the plot, in units of the page.
const ABOVE: i32 = 10;
/// The axis reaches from here, in dB against step 1; what lies lower stands at its edge.
const LOWEST_DB: f64 = -30.0;

/// As in the editor: a diamond is energy, a triangle a peak.
#[derive(Clone, Copy)]
enum Shape {
    Diamond,
    Triangle,
}

/// The drawing of one band.
pub(crate) fn draw(words: &Words, audit: &Audit, band: &str) -> maud::Markup {
    let height = ABOVE + ROW * audit.steps.len() as i32 + BELOW;
    drawn(words, height, |area| on(area, audit, band))
}

fn on(area: &Area, audit: &Audit, band: &str) -> Result<(), DrawError> {
    let steps = audit.steps.len() as f64;
    let measures = |index: usize| {
        let step = &audit.steps[index];
        SHOWN.into_iter().filter_map(move |(shape, name)| {
            step.bands.get(band)?.get(name).map(|measure| (shape, measure))
        })
    };
    let highest = (0..audit.steps.len())
        .flat_map(|index| measures(index).map(|(_, measure)| measure.change_db))
        .filter_map(|level| level.finite())
        .fold(8.0, f64::max);
    let high = ((highest + 1.0) / 5.0).ceil() * 5.0;
    let change = |x: f64| words::signed(x, 0);
    let reference = audit.test.reference_step.unwrap_or(1);
    let x_title = format!("change against step {reference} (dB)");
    let no_label = |_: f64| String::new();
    let frame = Frame {
        x: LOWEST_DB..high,
        y: steps..0.0,
        x_ticks: level_ticks(LOWEST_DB, high, 14),
        y_ticks: (0..=audit.steps.len()).map(|index| index as f64).collect(),
        x_label: Some(&change),
        y_label: Some(&no_label),
        x_title: &x_title,
        y_title: "",
        margins: (ABOVE, 16),
    };
    let place = area.clone().shrink(
        ((NAMES - LEFT) * FINE, 0),
        ((WIDTH - NAMES + LEFT) * FINE, (ABOVE + ROW * audit.steps.len() as i32 + BELOW) * FINE),
    );
    let mut plot = frame.on(&place)?;
    for (index, step) in audit.steps.iter().enumerate() {
        let middle = (ABOVE + ROW * index as i32 + ROW / 2) * FINE;
        let style = Ink::Text.words(LABEL_SIZE).pos(Pos::new(HPos::Left, VPos::Center));
        area.draw(&Text::new(format!("{} {}", step.step, step.name), (0, middle), style))?;
        for (lane, (shape, measure)) in measures(index).enumerate() {
            let y = index as f64 + 0.28 + 0.44 * lane as f64;
            expected(&mut plot, measure, y)?;
            measured(&mut plot, shape, measure, y)?;
        }
    }
    Ok(())
}

/// What an ideal sum shows: an upright line, and across it how far off a reading may lie.
fn expected(plot: &mut Plot, measure: &Measure, y: f64) -> Result<(), DrawError> {
    let Some(expected) = measure.expected_db.finite() else { return Ok(()) };
    let expected = expected.max(LOWEST_DB);
    let half = 0.19;
    if let Some(tolerance) = measure.tolerance_db.finite() {
        let from = (expected - tolerance).max(LOWEST_DB);
        let to = expected + tolerance;
        let ends = [from, to].map(|x| vec![(x, y - half / 2.0), (x, y + half / 2.0)]);
        let lines = ends.into_iter().chain([vec![(from, y), (to, y)]]);
        plot.draw_series(lines.map(|line| PathElement::new(line, Ink::AudibleFine.line())))?;
    }
    let line = vec![(expected, y - half), (expected, y + half)];
    plot.draw_series([PathElement::new(line, Ink::Audible.line())])?;
    Ok(())
}

/// What was measured: filled in its shape, with a ring where it lies outside the tolerance.
fn measured(plot: &mut Plot, shape: Shape, measure: &Measure, y: f64) -> Result<(), DrawError> {
    let Some(change) = measure.change_db.db() else { return Ok(()) };
    let (x_of, y_of) = {
        let area = plot.plotting_area();
        let (width, height) = area.dim_in_pixel();
        let (x, y) = (area.get_x_range(), area.get_y_range());
        ((x.end - x.start) / f64::from(width), (y.end - y.start) / f64::from(height))
    };
    let (rx, ry) = (5.0 * f64::from(FINE) * x_of, 5.0 * f64::from(FINE) * y_of);
    let x = change.max(LOWEST_DB);
    let corners = match shape {
        _ if change < LOWEST_DB => vec![(x, y), (x + 2.0 * rx, y - ry), (x + 2.0 * rx, y + ry)],
        Shape::Diamond => vec![(x - rx, y), (x, y - ry), (x + rx, y), (x, y + ry)],
        Shape::Triangle => vec![(x, y - ry), (x + rx, y + ry), (x - rx, y + ry)],
    };
    plot.draw_series([Polygon::new(corners, Ink::Whole.fill())])?;
    if !measure.within {
        plot.draw_series([Circle::new((x, y), 9 * FINE, Ink::Off.line())])?;
    }
    Ok(())
}
