//! Levels over time in lanes under each other on one clock: each has a unit of its own, and shows
//! whole band beside audible band, against the level aimed at or the highest level allowed.

use ledgerline_measure::history::{HistoryLevels, HistoryRow};
use ledgerline_measure::{Level, words};
use plotters::element::{PathElement, Polygon, Text};
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::frame::{BELOW, LABEL_SIZE};
use super::{
    Area, DrawError, FINE, Frame, Ink, Mark, Plot, TimeAxis, WIDTH, Words, drawn, level_ticks,
    marks, thinned,
};

/// Height of a lane's plot, in units of the page.
const LANE: i32 = 230;
/// Space over a lane that has no names of marks over it, in units of the page.
const ABOVE: i32 = 22;
/// Space for names at the ends of lines, in units of the page.
const RIGHT: i32 = 120;
/// Steps of the horizontal axis that a curve may have: about one to a unit of the page.
const COLUMNS: usize = 780;

/// Length in seconds of the stretches of which a drawing shows the highest level, where it
/// leaves out most rows.
pub(crate) fn step_s(rows: &[HistoryRow], time: TimeAxis) -> Option<f64> {
    (rows.len() > 2 * COLUMNS).then_some(time.span_s() / COLUMNS as f64)
}

/// A level of a row.
pub(crate) type Get = fn(&HistoryLevels) -> Level;

/// A curve in both bands.
pub(crate) struct Curve {
    /// Which level.
    pub get: Get,
    /// How it is drawn in the whole band.
    pub whole: Ink,
    /// How it is drawn in the audible band.
    pub audible: Ink,
}

/// A level that the curves are held against.
pub(crate) struct Limit {
    /// How it is drawn.
    pub ink: Ink,
    /// Where.
    pub level: f64,
    /// What is written at its end.
    pub name: String,
}

/// A chart of the course of levels.
pub(crate) struct Chart<'a> {
    /// The rows, oldest first. One without levels is a gap.
    pub rows: &'a [HistoryRow],
    /// The horizontal axis.
    pub time: TimeAxis,
    /// Moments that are worth a line, oldest first.
    pub marks: &'a [Mark],
    /// What is drawn under each other.
    pub lanes: &'a [Lane<'a>],
}

/// One unit's part of the chart.
pub(crate) struct Lane<'a> {
    /// The curve between whose two bands the difference is hatched, and which is named.
    pub main: Curve,
    /// A curve behind it.
    pub behind: Option<Curve>,
    /// Levels that the curves are held against.
    pub limits: Vec<Limit>,
    /// Moments of overs, oldest first.
    pub overs: &'a [f64],
    /// Title of the vertical axis, with its unit.
    pub unit: &'a str,
    /// To be added to every level, in dB.
    pub offset_db: f64,
    /// Edges of the vertical axis, in dB: lower and upper.
    pub range: (f64, f64),
}

impl Chart<'_> {
    /// The drawing.
    pub(crate) fn draw(&self, words: &Words) -> maud::Markup {
        let heights = (0..self.lanes.len()).map(|index| self.height(index));
        drawn(words, heights.sum(), |area| self.on(area))
    }

    /// Height of a lane with what is written over and under it, in units of the page.
    fn height(&self, index: usize) -> i32 {
        let below = if index + 1 == self.lanes.len() { BELOW } else { 0 };
        self.above(index) + LANE + below
    }

    fn above(&self, index: usize) -> i32 {
        if index == 0 && !self.marks.is_empty() { marks::ABOVE } else { ABOVE }
    }

    fn on(&self, area: &Area) -> Result<(), DrawError> {
        let mut top = 0;
        for (index, lane) in self.lanes.iter().enumerate() {
            let height = self.height(index);
            let place = area.clone().shrink((0, top * FINE), (WIDTH * FINE, height * FINE));
            self.lane(area, &place, index, lane)?;
            top += height;
        }
        Ok(())
    }

    fn lane(&self, area: &Area, place: &Area, index: usize, lane: &Lane) -> Result<(), DrawError> {
        let (low, high) = lane.range;
        let clock = |x: f64| self.time.label(x);
        let title = self.time.title();
        let level = |y: f64| words::fixed(y, 0);
        let is_last = index + 1 == self.lanes.len();
        let frame = Frame {
            x: self.time.range(),
            y: low..high,
            x_ticks: self.time.ticks(),
            y_ticks: level_ticks(low, high, 9),
            x_label: is_last.then_some(&clock),
            y_label: Some(&level),
            x_title: &title,
            y_title: lane.unit,
            margins: (self.above(index), RIGHT),
        };
        let mut plot = frame.on(place)?;
        self.fill(&mut plot, lane)?;
        marks::overs(&mut plot, lane.overs, low..high)?;
        for curve in lane.behind.iter().chain([&lane.main]) {
            self.curve(&mut plot, lane, curve.whole, |row| (curve.get)(&row.whole))?;
            self.curve(&mut plot, lane, curve.audible, |row| (curve.get)(&row.audible))?;
        }
        self.limits(&mut plot, lane)?;
        marks::draw(area, &mut plot, self.marks, low..high, index == 0)?;
        self.names(area, &plot, lane)
    }

    fn curve(
        &self,
        plot: &mut Plot,
        lane: &Lane,
        ink: Ink,
        get: impl Fn(&HistoryRow) -> Level,
    ) -> Result<(), DrawError> {
        let points = self.rows.iter().map(|row| (row.time_s, lane.drawn(get(row))));
        for piece in thinned(points, &self.time.range(), COLUMNS) {
            let highest = piece.iter().map(|step| (step.x, step.high));
            if ink == Ink::Audible && step_s(self.rows, self.time).is_some() {
                let lowest = piece.iter().rev().map(|step| (step.x, step.low));
                let outline: Vec<(f64, f64)> = highest.clone().chain(lowest).collect();
                plot.draw_series([Polygon::new(outline, Ink::AudibleFill.fill())])?;
            }
            plot.draw_series([PathElement::new(highest.collect::<Vec<_>>(), ink.line())])?;
        }
        Ok(())
    }

    /// Hatches what lies between the two bands, which a meter reads and nobody hears, and fills what
    /// is heard where the curve moves too fast for a heavy line.
    fn fill(&self, plot: &mut Plot, lane: &Lane) -> Result<(), DrawError> {
        let both = self.rows.iter().map(|row| {
            let whole = lane.drawn((lane.main.get)(&row.whole));
            let audible = lane.drawn((lane.main.get)(&row.audible));
            (row.time_s, whole.zip(audible))
        });
        for stretch in stretches(both, self.time.span_s()) {
            let upper = stretch.iter().map(|&(x, whole, audible)| (x, whole.max(audible)));
            let lower = stretch.iter().rev().map(|&(x, _, audible)| (x, audible));
            let outline: Vec<(f64, f64)> = upper.chain(lower).collect();
            plot.draw_series([Polygon::new(outline, Ink::HiddenGround.fill())])?;
            if lane.main.audible == Ink::AudibleEdge {
                let ends = [stretch[stretch.len() - 1].0, stretch[0].0].map(|x| (x, lane.range.0));
                let upper = stretch.iter().map(|&(x, _, audible)| (x, audible));
                let outline: Vec<(f64, f64)> = upper.chain(ends).collect();
                plot.draw_series([Polygon::new(outline, Ink::AudibleFill.fill())])?;
            }
        }
        Ok(())
    }

    fn limits(&self, plot: &mut Plot, lane: &Lane) -> Result<(), DrawError> {
        let range = self.time.range();
        for limit in lane.limits.iter().filter(|limit| lane.holds(limit.level)) {
            let line = vec![(range.start, limit.level), (range.end, limit.level)];
            plot.draw_series([PathElement::new(line, limit.ink.line())])?;
        }
        Ok(())
    }

    /// Writes at the right edge what each line is, none over another.
    fn names(&self, area: &Area, plot: &Plot, lane: &Lane) -> Result<(), DrawError> {
        let end = self.rows.last().map_or(0.0, |row| row.time_s);
        let from = end - step_s(self.rows, self.time).unwrap_or(0.0);
        // Where the line ends: at the highest level of its last step.
        let last = |get: fn(&HistoryRow) -> &HistoryLevels| {
            let rows = self.rows.iter().rev().take_while(|row| row.time_s >= from);
            let level = rows.map(|row| (lane.main.get)(get(row))).fold(Level::NONE, Level::max);
            lane.drawn(level)
        };
        let mut names = vec![];
        names.extend(last(|row| &row.whole).map(|y| (y, Ink::Whole, "whole band".to_owned())));
        names.extend(last(|row| &row.audible).map(|y| (y, Ink::Audible, "audible".to_owned())));
        let limits = lane.limits.iter().filter(|limit| lane.holds(limit.level));
        names.extend(limits.map(|limit| (limit.level, limit.ink, limit.name.clone())));
        names.sort_by(|one, other| other.0.total_cmp(&one.0));
        let step = ((LABEL_SIZE * 1.25) as i32) * FINE;
        let top = plot.as_coord_spec().get_y_axis_pixel_range().start;
        let mut next = top;
        for (y, ink, name) in names {
            let at = plot.plotting_area().map_coordinate(&(self.time.range().start, y)).1.max(next);
            next = at + step;
            let style = ink.words(LABEL_SIZE).pos(Pos::new(HPos::Left, VPos::Center));
            area.draw(&Text::new(name, ((WIDTH - RIGHT + 8) * FINE, at), style))?;
        }
        Ok(())
    }
}

impl Lane<'_> {
    /// The level as it is drawn: silence lies on the lower edge.
    fn drawn(&self, level: Level) -> Option<f64> {
        let (low, high) = self.range;
        level.db().map(|db| (db + self.offset_db).clamp(low, high))
    }

    fn holds(&self, level: f64) -> bool {
        (self.range.0..=self.range.1).contains(&level)
    }
}

/// Stretches in which both bands have a level, with at most one point to a step.
fn stretches(
    both: impl Iterator<Item = (f64, Option<(f64, f64)>)>,
    span_s: f64,
) -> Vec<Vec<(f64, f64, f64)>> {
    let mut stretches: Vec<Vec<(f64, f64, f64)>> = vec![];
    let mut open = false;
    let step = span_s / COLUMNS as f64;
    for (x, levels) in both {
        let Some((whole, audible)) = levels else {
            open = false;
            continue;
        };
        if !open {
            stretches.push(vec![]);
            open = true;
        }
        let Some(stretch) = stretches.last_mut() else { continue };
        match stretch.last_mut() {
            Some(last) if x - last.0 < step => {
                last.1 = last.1.max(whole);
                last.2 = last.2.max(audible);
            }
            _ => stretch.push((x, whole, audible)),
        }
    }
    stretches.retain(|stretch| stretch.len() > 1);
    stretches
}
