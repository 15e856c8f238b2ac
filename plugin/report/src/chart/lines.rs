//! Curves of two files in one frame, over time or over frequency. They differ in weight and fill as
//! well as in colour.

use ledgerline_measure::words;

use plotters::element::{PathElement, Polygon, Rectangle, Text};
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::frame::LABEL_SIZE;
use super::ticks::{frequency_label, frequency_ticks, time_label, time_title};
use super::{
    Area, DrawError, FINE, Frame, Ink, Plot, WIDTH, Words, clock_ticks, drawn, level_ticks, thinned,
};

/// Height, in units of the page.
const HEIGHT: i32 = 320;
/// Space at the right, in units of the page.
const RIGHT: i32 = 20;
/// Space over the plot for the names of marks, in units of the page.
const ABOVE: i32 = 30;
/// Width of the plot, in units of the page.
const PLOT: i32 = WIDTH - super::frame::LEFT - RIGHT;

/// A point: seconds or Hz, and a level; none where there is none.
pub(crate) type Point = (f64, Option<f64>);

/// One curve.
pub(crate) struct Curve {
    /// How its line looks.
    pub ink: Ink,
    /// How the area under it looks, if it is filled.
    pub fill: Option<Ink>,
    /// Its points, from left to right.
    pub points: Vec<Point>,
}

/// Steps of a band each, from a lower to an upper frequency.
pub(crate) struct Bars {
    /// How their outline looks.
    pub ink: Ink,
    /// How they are filled, if they are.
    pub fill: Option<Ink>,
    /// Middle of each band in Hz, and its level.
    pub bands: Vec<Point>,
    /// Upper edge of a band over its lower edge.
    pub ratio: f64,
}

/// A place on the horizontal axis that is worth a line, or what lies beyond it.
pub(crate) struct Mark {
    /// Where, in Hz.
    pub hz: f64,
    /// Its name.
    pub name: String,
}

/// What the horizontal axis is.
#[derive(Clone, Copy)]
pub(crate) enum Across {
    /// Time up to so many seconds.
    Time(f64),
    /// Frequency from and to so many Hz.
    Frequency(f64, f64),
}

/// A chart of curves.
pub(crate) struct Chart<'a> {
    /// The horizontal axis.
    pub across: Across,
    /// Edges of the vertical axis.
    pub range: (f64, f64),
    /// Title of the vertical axis, with its unit.
    pub unit: &'a str,
    /// Steps behind the curves.
    pub bars: Vec<Bars>,
    /// The curves, the hindmost first.
    pub curves: Vec<Curve>,
    /// Where something ends; beyond it the ground is hatched.
    pub end: Option<Mark>,
    /// Decimals of the vertical axis.
    pub decimals: usize,
}

impl Chart<'_> {
    /// The drawing.
    pub(crate) fn draw(&self, words: &Words) -> maud::Markup {
        drawn(words, HEIGHT, |area| self.on(area))
    }

    fn on(&self, area: &Area) -> Result<(), DrawError> {
        let (low, high) = self.range;
        let level = |y: f64| words::fixed(y, self.decimals);
        let x_ticks = match self.across {
            Across::Time(end) => clock_ticks(end, 11),
            Across::Frequency(low, high) => frequency_ticks(low, high, f64::from(PLOT)),
        };
        let label = |x: f64| match self.across {
            Across::Time(end) => time_label(x, end),
            Across::Frequency(..) => frequency_label(10f64.powf(x)),
        };
        let frame = Frame {
            x: self.axis(),
            y: low..high,
            x_ticks,
            y_ticks: level_ticks(low, high, 8),
            x_label: Some(&label),
            y_label: Some(&level),
            x_title: match self.across {
                Across::Time(end) => time_title(end),
                Across::Frequency(..) => "frequency (Hz, logarithmic)",
            },
            y_title: self.unit,
            margins: (if self.end.is_some() { ABOVE } else { 12 }, RIGHT),
        };
        let mut plot = frame.on(area)?;
        self.beyond(&mut plot)?;
        for bars in &self.bars {
            self.bars(&mut plot, bars)?;
        }
        for curve in &self.curves {
            self.curve(&mut plot, curve)?;
        }
        self.name_end(area, &plot)
    }

    /// The horizontal axis: seconds, or powers of ten of Hz.
    fn axis(&self) -> std::ops::Range<f64> {
        match self.across {
            Across::Time(end) => 0.0..end,
            Across::Frequency(low, high) => low.log10()..high.log10(),
        }
    }

    /// Where a place lies on the axis.
    fn x(&self, place: f64) -> f64 {
        match self.across {
            Across::Time(end) => place.clamp(0.0, end),
            Across::Frequency(low, high) => place.clamp(low, high).log10(),
        }
    }

    fn y(&self, level: f64) -> f64 {
        level.clamp(self.range.0, self.range.1)
    }

    fn beyond(&self, plot: &mut Plot) -> Result<(), DrawError> {
        let (Some(end), Across::Frequency(_, high_hz)) = (&self.end, self.across) else {
            return Ok(());
        };
        let (low, high) = self.range;
        let (from, to) = (self.x(end.hz), high_hz.log10());
        plot.draw_series([Rectangle::new([(from, low), (to, high)], Ink::HiddenGround.fill())])?;
        let line = vec![(from, low), (from, high)];
        plot.draw_series([PathElement::new(line, Ink::Target.line())])?;
        Ok(())
    }

    fn name_end(&self, area: &Area, plot: &Plot) -> Result<(), DrawError> {
        let Some(end) = &self.end else { return Ok(()) };
        let at = plot.plotting_area().map_coordinate(&(self.x(end.hz), self.range.1));
        let style = Ink::Text.words(LABEL_SIZE);
        // To the side on which there is space.
        let (h_pos, dx) =
            if at.0 > WIDTH * FINE / 2 { (HPos::Right, 4 * FINE) } else { (HPos::Left, -4 * FINE) };
        let style = style.pos(Pos::new(h_pos, VPos::Bottom));
        area.draw(&Text::new(end.name.clone(), (at.0 + dx, at.1 - 4 * FINE), style))
    }

    fn bars(&self, plot: &mut Plot, bars: &Bars) -> Result<(), DrawError> {
        let half = bars.ratio.sqrt();
        let (low, _) = self.range;
        let mut outline = vec![];
        for &(hz, level) in &bars.bands {
            let (from, to) = (self.x(hz / half), self.x(hz * half));
            let top = level.map_or(low, |level| self.y(level));
            if let Some(fill) = bars.fill
                && top > low
            {
                plot.draw_series([Rectangle::new([(from, low), (to, top)], fill.fill())])?;
            }
            outline.extend([(from, top), (to, top)]);
        }
        plot.draw_series([PathElement::new(outline, bars.ink.line())])?;
        Ok(())
    }

    fn curve(&self, plot: &mut Plot, curve: &Curve) -> Result<(), DrawError> {
        let (low, _) = self.range;
        let points =
            curve.points.iter().map(|&(x, level)| (self.x(x), level.map(|level| self.y(level))));
        for piece in thinned(points, &self.axis(), PLOT as usize) {
            let piece: Vec<(f64, f64)> = piece.iter().map(|step| (step.x, step.high)).collect();
            if let (Some(fill), Some(first), Some(last)) =
                (curve.fill, piece.first().copied(), piece.last().copied())
            {
                let ends = [(last.0, low), (first.0, low)];
                let outline: Vec<(f64, f64)> = piece.iter().copied().chain(ends).collect();
                plot.draw_series([Polygon::new(outline, fill.fill())])?;
            }
            plot.draw_series([PathElement::new(piece, curve.ink.line())])?;
        }
        Ok(())
    }
}
