//! The mean spectrum in three panes: what is hidden below the audible band, the audible band, what
//! is hidden above it. Each has a logarithmic frequency axis of its own, so that a narrow hidden
//! region can be read as well.

use ledgerline_measure::reading::Hidden;
use ledgerline_measure::spectrum::SPECTRUM_POINTS;
use ledgerline_measure::{Edges, Level, Spectrum, words};
use plotters::element::{Circle, PathElement, Polygon, Rectangle, Text};
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::frame::{LABEL_SIZE, LEFT};
use super::ticks::{frequency_label, frequency_ticks};
use super::{Area, DrawError, FINE, Frame, Ink, Plot, WIDTH, Words, drawn, level_ticks};
use crate::numbers;

/// Height, in units of the page.
const HEIGHT: i32 = 360;
/// Space over the plots for the panes' names and figures, in units of the page.
const HEADS: i32 = 66;
/// Space between two panes, in units of the page.
const GAP: i32 = 12;
/// Lowest level drawn, in dBFS.
const LOWEST_DBFS: f64 = -120.0;
/// A part of the frequency axis.
struct Pane {
    name: String,
    figures: String,
    tone: Option<String>,
    low_hz: f64,
    high_hz: f64,
    /// Width of the plot, in units of the page.
    width: i32,
    is_hidden: bool,
}

/// What is drawn.
pub(crate) struct Chart<'a> {
    /// The curve.
    pub spectrum: &'a Spectrum,
    /// What the panes' heads say of hidden content.
    pub hidden: &'a Hidden,
    /// RMS of the audible band.
    pub audible_dbfs: Level,
    /// Where the panes meet.
    pub edges: Edges,
}

impl Chart<'_> {
    /// The drawing.
    pub(crate) fn draw(&self, words: &Words) -> maud::Markup {
        drawn(words, HEIGHT, |area| self.on(area))
    }

    /// The curve as frequencies and levels.
    fn points(&self) -> impl Iterator<Item = (f64, f64)> {
        let spectrum = self.spectrum;
        (0..SPECTRUM_POINTS)
            .map(|index| (f64::from(spectrum.hz(index)), f64::from(spectrum.mean_dbfs[index])))
    }

    fn on(&self, area: &Area) -> Result<(), DrawError> {
        let highest = self.points().map(|(_, dbfs)| dbfs).fold(0.0, f64::max);
        let top = (highest / 10.0).ceil() * 10.0;
        let mut left = 0;
        for (index, pane) in self.panes().iter().enumerate() {
            let labels = if index == 0 { LEFT } else { 0 };
            let place = area
                .clone()
                .shrink((left * FINE, 0), ((pane.width + labels) * FINE, HEIGHT * FINE));
            self.pane(&place, pane, labels, top)?;
            left += pane.width + labels + GAP;
        }
        Ok(())
    }

    fn panes(&self) -> Vec<Pane> {
        let (first_hz, last_hz) =
            (f64::from(self.spectrum.low_hz), f64::from(self.spectrum.high_hz));
        let (low_hz, high_hz) = (self.edges.low_hz(), self.edges.high_hz());
        let above = last_hz > high_hz * 1.01;
        let free = WIDTH - LEFT - 14 - GAP - if above { GAP } else { 0 };
        let shares = if above { [0.22, 0.5, 0.28] } else { [0.25, 0.75, 0.0] };
        let width = |index: usize| (f64::from(free) * shares[index]) as i32;
        let figures = |level: Level, share| format!("{level:.1} dBFS · {}", numbers::share(share));
        let hidden = self.hidden;
        let mut panes = vec![
            Pane {
                name: format!("hidden below {}", words::frequency(low_hz)),
                figures: figures(hidden.below_dbfs, hidden.below_share),
                tone: self.tone(false),
                low_hz: first_hz.min(low_hz / 2.0),
                high_hz: low_hz,
                width: width(0),
                is_hidden: true,
            },
            Pane {
                name: "audible band".into(),
                figures: figures(self.audible_dbfs, hidden.audible_share),
                tone: None,
                low_hz,
                high_hz: if above { high_hz } else { last_hz },
                width: width(1),
                is_hidden: false,
            },
        ];
        if above {
            panes.push(Pane {
                name: format!("hidden above {}", words::frequency(high_hz)),
                figures: figures(hidden.above_dbfs, hidden.above_share),
                tone: self.tone(true),
                low_hz: high_hz,
                high_hz: last_hz,
                width: width(2),
                is_hidden: true,
            });
        }
        panes
    }

    /// The strongest tone on one side of the audible band.
    fn tone(&self, above: bool) -> Option<String> {
        let tone = self.hidden.tones.strongest(self.edges, above)?;
        Some(format!("tone {}, {:.1} dBFS", words::frequency(tone.hz), tone.dbfs))
    }

    fn pane(&self, area: &Area, pane: &Pane, labels: i32, top: f64) -> Result<(), DrawError> {
        let label = |x: f64| frequency_label(10f64.powf(x));
        let level = |y: f64| words::fixed(y, 0);
        let (low, high) = (pane.low_hz.log10(), pane.high_hz.log10());
        let frame = Frame {
            x: low..high,
            y: LOWEST_DBFS..top,
            x_ticks: frequency_ticks(pane.low_hz, pane.high_hz, f64::from(pane.width)),
            y_ticks: level_ticks(LOWEST_DBFS, top, 8),
            x_label: Some(&label),
            y_label: (labels > 0).then_some(&level),
            x_title: if pane.is_hidden { "Hz" } else { "frequency (Hz, logarithmic)" },
            y_title: "mean level (dBFS)",
            margins: (HEADS, 0),
        };
        let mut plot = frame.on(area)?;
        if pane.is_hidden {
            let whole = [(low, LOWEST_DBFS), (high, top)];
            plot.draw_series([Rectangle::new(whole, Ink::HiddenGround.fill())])?;
        }
        self.curve(&mut plot, pane)?;
        if pane.is_hidden {
            self.tones(&mut plot, pane)?;
        }
        heads(area, pane, labels)
    }

    fn curve(&self, plot: &mut Plot, pane: &Pane) -> Result<(), DrawError> {
        let (line, fill) = if pane.is_hidden {
            (Ink::Hidden, Ink::HiddenFill)
        } else {
            (Ink::AudibleEdge, Ink::AudibleFill)
        };
        let curve = cut(self.points(), pane);
        if curve.is_empty() {
            return Ok(());
        }
        let mut outline = curve.clone();
        outline.push((pane.high_hz.log10(), LOWEST_DBFS));
        outline.push((pane.low_hz.log10(), LOWEST_DBFS));
        plot.draw_series([Polygon::new(outline, fill.fill())])?;
        plot.draw_series([PathElement::new(curve, line.line())])?;
        Ok(())
    }

    fn tones(&self, plot: &mut Plot, pane: &Pane) -> Result<(), DrawError> {
        for tone in self.hidden.tones.as_slice() {
            let Some(dbfs) = tone.dbfs.finite().filter(|_| holds(pane, tone.hz)) else { continue };
            let at = (tone.hz.log10(), dbfs.max(LOWEST_DBFS));
            let stem = vec![(at.0, LOWEST_DBFS), at];
            plot.draw_series([PathElement::new(stem, Ink::Text.line())])?;
            plot.draw_series([Circle::new(at, 5 * FINE, Ink::Text.line())])?;
        }
        Ok(())
    }
}

/// Name and figures of a pane over its plot.
fn heads(area: &Area, pane: &Pane, labels: i32) -> Result<(), DrawError> {
    let ink = if pane.is_hidden { Ink::Hidden } else { Ink::Audible };
    let lines = [
        (Ink::Text, Some(&pane.name)),
        (ink, Some(&pane.figures)),
        (Ink::Text, pane.tone.as_ref()),
    ];
    for (line, (ink, text)) in lines.into_iter().enumerate() {
        let Some(text) = text else { continue };
        let at = (labels * FINE, (2 + line as i32 * 20) * FINE);
        let style = ink.words(LABEL_SIZE).pos(Pos::new(HPos::Left, VPos::Top));
        area.draw(&Text::new(text.clone(), at, style))?;
    }
    Ok(())
}

fn holds(pane: &Pane, hz: f64) -> bool {
    (pane.low_hz..=pane.high_hz).contains(&hz)
}

/// The part of a curve that lies in a pane, from edge to edge.
fn cut(points: impl Iterator<Item = (f64, f64)>, pane: &Pane) -> Vec<(f64, f64)> {
    let points: Vec<(f64, f64)> =
        points.map(|(hz, dbfs)| (hz.log10(), dbfs.max(LOWEST_DBFS))).collect();
    let (low, high) = (pane.low_hz.log10(), pane.high_hz.log10());
    let mut curve: Vec<(f64, f64)> =
        points.iter().copied().filter(|&(x, _)| x > low && x < high).collect();
    if curve.is_empty() {
        return curve;
    }
    let at = |x: f64| {
        points.windows(2).find_map(|pair| {
            let [(x0, y0), (x1, y1)] = [pair[0], pair[1]];
            (x0 <= x && x <= x1 && x1 > x0).then(|| (x, y0 + (y1 - y0) * (x - x0) / (x1 - x0)))
        })
    };
    if let Some(first) = at(low) {
        curve.insert(0, first);
    }
    curve.extend(at(high));
    curve
}
