//! Levels over time, whole band beside audible band, against the level aimed at or the highest
//! level allowed.

use ledgerline_measure::history::{HistoryLevels, HistoryRow};
use ledgerline_measure::{Level, words};
use plotters::element::{PathElement, Polygon, Text};
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::frame::LABEL_SIZE;
use super::{
    Area, DrawError, FINE, Frame, Ink, Mark, Plot, TimeAxis, WIDTH, Words, drawn, level_ticks,
    marks, thinned,
};

/// Height, in units of the page.
const HEIGHT: i32 = 330;
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
    /// Moments of overs, oldest first.
    pub overs: &'a [f64],
    /// The curve between whose two bands the difference is hatched, and which is named.
    pub main: Curve,
    /// A curve behind it.
    pub behind: Option<Curve>,
    /// The level aimed at or the highest allowed.
    pub limit: Option<Limit>,
    /// Title of the vertical axis, with its unit.
    pub unit: &'a str,
    /// To be added to every level, in dB.
    pub offset_db: f64,
}

impl Chart<'_> {
    /// The drawing.
    pub(crate) fn draw(&self, words: &Words) -> maud::Markup {
        drawn(words, HEIGHT, |area| self.on(area))
    }

    fn on(&self, area: &Area) -> Result<(), DrawError> {
        let (low, high) = self.range();
        let clock = |x: f64| self.time.label(x);
        let title = self.time.title();
        let level = |y: f64| words::fixed(y, 0);
        let frame = Frame {
            x: self.time.range(),
            y: low..high,
            x_ticks: self.time.ticks(),
            y_ticks: level_ticks(low, high, 8),
            x_label: &clock,
            y_label: Some(&level),
            x_title: &title,
            y_title: self.unit,
            margins: (if self.marks.is_empty() { 12 } else { marks::ABOVE }, RIGHT),
        };
        let mut plot = frame.on(area)?;
        self.fill(&mut plot, low, high)?;
        marks::overs(&mut plot, self.overs, low..high)?;
        for curve in self.behind.iter().chain([&self.main]) {
            self.curve(&mut plot, curve.whole, |row| (curve.get)(&row.whole), low, high)?;
            self.curve(&mut plot, curve.audible, |row| (curve.get)(&row.audible), low, high)?;
        }
        self.limit(&mut plot)?;
        marks::draw(area, &mut plot, self.marks, low..high)?;
        self.names(area, &plot, low, high)
    }

    /// What is heard and what is stored, where there is a level, in rising order.
    fn levels(&self, get: Get) -> Vec<f64> {
        let bands = self.rows.iter().flat_map(|row| [&row.whole, &row.audible]);
        let mut levels: Vec<f64> = bands.filter_map(|band| get(band).finite()).collect();
        levels.sort_by(f64::total_cmp);
        levels
    }

    /// Edges of the vertical axis in dB: in steps of 5 dB around nearly all there is, silence left
    /// out and no deeper than 60 dB under the highest.
    fn range(&self) -> (f64, f64) {
        let curves = self.behind.iter().chain([&self.main]);
        let levels: Vec<Vec<f64>> = curves.map(|curve| self.levels(curve.get)).collect();
        // A fade or a pause is no reason to press all the rest together.
        let low_end = |levels: &Vec<f64>| levels.get(levels.len() / 100).copied();
        let offset = self.offset_db;
        let limit = self.limit.as_ref().map(|limit| limit.level - offset);
        let highest = levels.iter().filter_map(|levels| levels.last().copied()).chain(limit);
        let highest = highest.fold(f64::NEG_INFINITY, f64::max);
        if !highest.is_finite() {
            return (-60.0, 0.0);
        }
        let lowest = levels.iter().filter_map(low_end).chain(limit).fold(f64::INFINITY, f64::min);
        let high = ((highest + offset + 0.5) / 5.0).ceil() * 5.0;
        let low = ((lowest + offset - 1.0) / 5.0).floor() * 5.0;
        (low.clamp(high - 60.0, high - 15.0), high)
    }

    /// The level as it is drawn: silence lies on the lower edge.
    fn drawn(&self, level: Level, low: f64, high: f64) -> Option<f64> {
        level.db().map(|db| (db + self.offset_db).clamp(low, high))
    }

    fn curve(
        &self,
        plot: &mut Plot,
        ink: Ink,
        get: impl Fn(&HistoryRow) -> Level,
        low: f64,
        high: f64,
    ) -> Result<(), DrawError> {
        let points = self.rows.iter().map(|row| (row.time_s, self.drawn(get(row), low, high)));
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
    fn fill(&self, plot: &mut Plot, low: f64, high: f64) -> Result<(), DrawError> {
        let both = self.rows.iter().map(|row| {
            let whole = self.drawn((self.main.get)(&row.whole), low, high);
            let audible = self.drawn((self.main.get)(&row.audible), low, high);
            (row.time_s, whole.zip(audible))
        });
        for stretch in stretches(both, self.time.span_s()) {
            let upper = stretch.iter().map(|&(x, whole, audible)| (x, whole.max(audible)));
            let lower = stretch.iter().rev().map(|&(x, _, audible)| (x, audible));
            let outline: Vec<(f64, f64)> = upper.chain(lower).collect();
            plot.draw_series([Polygon::new(outline, Ink::HiddenGround.fill())])?;
            if self.main.audible == Ink::AudibleEdge {
                let ends = [stretch[stretch.len() - 1].0, stretch[0].0].map(|x| (x, low));
                let upper = stretch.iter().map(|&(x, _, audible)| (x, audible));
                let outline: Vec<(f64, f64)> = upper.chain(ends).collect();
                plot.draw_series([Polygon::new(outline, Ink::AudibleFill.fill())])?;
            }
        }
        Ok(())
    }

    fn limit(&self, plot: &mut Plot) -> Result<(), DrawError> {
        let Some(limit) = &self.limit else { return Ok(()) };
        let range = self.time.range();
        let line = vec![(range.start, limit.level), (range.end, limit.level)];
        plot.draw_series([PathElement::new(line, limit.ink.line())])?;
        Ok(())
    }

    /// Writes at the right edge what each line is, none over another.
    fn names(&self, area: &Area, plot: &Plot, low: f64, high: f64) -> Result<(), DrawError> {
        let end = self.rows.last().map_or(0.0, |row| row.time_s);
        let from = end - step_s(self.rows, self.time).unwrap_or(0.0);
        // Where the line ends: at the highest level of its last step.
        let last = |get: fn(&HistoryRow) -> &HistoryLevels| {
            let rows = self.rows.iter().rev().take_while(|row| row.time_s >= from);
            let level = rows.map(|row| (self.main.get)(get(row))).fold(Level::NONE, Level::max);
            self.drawn(level, low, high)
        };
        let mut names = vec![];
        names.extend(last(|row| &row.whole).map(|y| (y, Ink::Whole, "whole band".to_owned())));
        names.extend(last(|row| &row.audible).map(|y| (y, Ink::Audible, "audible".to_owned())));
        if let Some(limit) = &self.limit {
            names.push((limit.level, limit.ink, limit.name.clone()));
        }
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
