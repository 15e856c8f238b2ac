//! The spectrum of the bus with the hidden regions set apart: in panes of their own, shaded, hatched
//! and labelled, with the level and the share of energy of each, and the hidden tones.

mod panes;

use egui::{Align2, Painter, Rect, Stroke, Ui, pos2, vec2};
use ledgerline_measure::reading::{Reading, Tone};
use ledgerline_measure::{Edges, Level, Spectrum, words};

use self::panes::{HIGHEST_DBFS, LOWEST_DBFS, Pane, Part};
use super::look::Look;
use super::marks::{self, fitted};
use super::palette::tint;
use super::{numbers, panel, share_bar};

/// Height of the bar of shares, in units.
const BAR_UNITS: f32 = 1.35;
/// Width of the labels of the level axis, in units.
const LEVELS_UNITS: f32 = 2.5;
/// Panels narrower than this leave their legend out, in units.
const WIDE_UNITS: f32 = 30.0;
/// Height of a heading's line, in units.
const LINE_UNITS: f32 = 1.08;
/// Lines of a heading: name, level and share, two tones.
const HEADING_LINES: f32 = 4.0;
/// Tones that are named over a pane.
const NAMED_TONES: usize = 2;
/// Height of the frequency labels, in units.
const TICKS_UNITS: f32 = 1.15;

/// Draws the spectrum.
pub fn show(
    ui: &Ui,
    look: &Look,
    rect: Rect,
    reading: &Reading,
    spectrum: &Spectrum,
    edges: Edges,
) {
    let dc = format!("DC {} dBFS", numbers::level(reading.hidden.dc_dbfs));
    let remark = if rect.width() < look.units(WIDE_UNITS) {
        dc
    } else {
        format!("{dc}   ·   filled: mean since reset, line: now")
    };
    let pointed = pointed(ui, look, rect, spectrum, edges);
    let remark = pointed.as_ref().map_or(remark, |pointed| pointed.words.clone());
    let content = panel::show(ui, look, rect, "Spectrum", &remark);
    let bar = Rect::from_min_size(content.min, vec2(content.width(), look.units(BAR_UNITS)));
    share_bar::show(ui, look, bar, &reading.hidden);
    let area = plot_area(look, content);
    let heading = look.units(LINE_UNITS * HEADING_LINES + 0.2);
    let plot = Rect::from_min_max(
        pos2(area.left(), area.top() + heading),
        pos2(area.right(), area.bottom() - look.units(TICKS_UNITS)),
    );
    level_axis(ui.painter(), look, plot);
    for pane in panes::panes(look, area, spectrum, edges.low_hz() as f32, edges.high_hz() as f32) {
        let plot = Rect::from_x_y_ranges(pane.area.x_range(), plot.y_range());
        draw(ui.painter(), look, &pane, plot, spectrum);
        let tones: Vec<_> =
            reading.hidden.tones.as_slice().iter().filter(|t| pane.holds(t.hz as f32)).collect();
        self::heading(ui.painter(), look, &pane, reading, edges, &tones);
        if pane.part != Part::Audible {
            tones.iter().for_each(|tone| mark(ui.painter(), look, &pane, plot, tone));
        }
        let words = || in_words(&pane, reading, edges, &tones);
        panel::describe(ui, pane.area, name_of(pane.part), words);
    }
    if let Some(pointed) = pointed {
        let stroke = Stroke::new(look.hairline(), look.palette.text);
        ui.painter().vline(pointed.x, plot.y_range(), stroke);
    }
}

/// What is pointed at.
struct Pointed {
    x: f32,
    words: String,
}

fn pointed(ui: &Ui, look: &Look, rect: Rect, spectrum: &Spectrum, edges: Edges) -> Option<Pointed> {
    let at = ui.ctx().pointer_hover_pos().filter(|at| rect.contains(*at))?;
    let area = plot_area(look, panel::content(look, rect));
    let panes = panes::panes(look, area, spectrum, edges.low_hz() as f32, edges.high_hz() as f32);
    let pane = panes.iter().find(|pane| pane.area.x_range().contains(at.x))?;
    let hz = pane.hz(at.x);
    let level = |levels| numbers::level(Level::from_db(f64::from(panes::at(spectrum, levels, hz))));
    let (mean, now) = (level(&spectrum.mean_dbfs), level(&spectrum.now_dbfs));
    let words = format!("{}: mean {mean} dBFS, now {now} dBFS", words::frequency(f64::from(hz)));
    Some(Pointed { x: at.x, words })
}

/// Where the panes lie, from their headings to the labels under them.
fn plot_area(look: &Look, content: Rect) -> Rect {
    let top = content.top() + look.units(BAR_UNITS + 0.35);
    Rect::from_min_max(pos2(content.left() + look.units(LEVELS_UNITS), top), content.max)
}

fn level_axis(painter: &Painter, look: &Look, plot: Rect) {
    let palette = look.palette;
    for step in 0..=3 {
        let dbfs = HIGHEST_DBFS + (LOWEST_DBFS - HIGHEST_DBFS) * step as f32 / 3.0;
        let y = panes::y(plot, dbfs);
        let label = format!("{:.0}", Level::from_db(f64::from(dbfs)));
        let at = pos2(plot.left() - look.units(0.35), y);
        painter.text(at, Align2::RIGHT_CENTER, label, look.digits(0.8), palette.quiet);
    }
    let at = pos2(plot.left() - look.units(0.35), plot.top() - look.units(1.1));
    painter.text(at, Align2::RIGHT_CENTER, "dBFS", look.words(0.8), palette.quiet);
}

fn draw(painter: &Painter, look: &Look, pane: &Pane, plot: Rect, spectrum: &Spectrum) {
    let palette = look.palette;
    let hidden = pane.part != Part::Audible;
    if hidden {
        marks::hatching(painter, look, plot);
    } else {
        painter.rect_filled(plot, 0.0, tint(palette.audible, 0.05));
    }
    for step in 0..=3 {
        let y = plot.top() + plot.height() * step as f32 / 3.0;
        painter.hline(plot.x_range(), y, Stroke::new(look.hairline(), palette.rule));
    }
    ticks(painter, look, pane, plot);
    let colour = if hidden { palette.hidden } else { palette.audible };
    let mean = pane.curve(plot, spectrum, &spectrum.mean_dbfs);
    painter.add(marks::area(&mean, plot.bottom(), tint(colour, 0.5)));
    let now = pane.curve(plot, spectrum, &spectrum.now_dbfs);
    if now.iter().any(|point| point.y < plot.bottom()) {
        painter.line(now, Stroke::new(look.units(0.11).max(1.0), palette.text));
    }
    painter.hline(plot.x_range(), plot.bottom(), Stroke::new(look.hairline(), palette.axis));
}

/// Frequencies that a part is labelled with, in Hz, the most important first.
fn tick_frequencies(part: Part) -> &'static [f32] {
    match part {
        Part::Below => &[10.0, 2.0, 5.0, 50.0, 100.0],
        Part::Audible => &[1e3, 100.0, 10e3, 200.0, 5e3, 50.0, 2e3, 500.0],
        Part::Above => &[30e3, 50e3, 100e3, 200e3, 40e3, 20e3, 24e3, 22e3, 10e3],
    }
}

fn ticks(painter: &Painter, look: &Look, pane: &Pane, plot: Rect) {
    let palette = look.palette;
    let y = plot.bottom() + look.units(0.62);
    let mut taken: Vec<Rect> = Vec::new();
    for hz in tick_frequencies(pane.part).iter().filter(|hz| pane.holds(**hz)) {
        let text = words::frequency(f64::from(*hz));
        let galley = painter.layout_no_wrap(text, look.words(0.78), palette.quiet);
        let half = galley.size().x / 2.0;
        let (left, right) = (pane.area.left() + half, pane.area.right() - half);
        let centre = pos2(pane.x(*hz).max(left).min(right), y);
        let place = Align2::CENTER_CENTER.anchor_size(centre, galley.size());
        if taken.iter().any(|other| other.expand2(vec2(look.units(0.5), 0.0)).intersects(place)) {
            continue;
        }
        let line = Stroke::new(look.hairline(), palette.axis);
        painter.vline(pane.x(*hz), plot.bottom()..=plot.bottom() + look.units(0.2), line);
        painter.galley(place.min, galley, palette.quiet);
        taken.push(place);
    }
}

fn heading(
    painter: &Painter,
    look: &Look,
    pane: &Pane,
    reading: &Reading,
    edges: Edges,
    tones: &[&Tone],
) {
    let palette = look.palette;
    let hidden = pane.part != Part::Audible;
    let colour = if hidden { palette.hidden } else { palette.audible };
    let line = |row: usize, text: &str, font, colour| {
        let y = pane.area.top() + look.units(LINE_UNITS * (row as f32 + 0.5));
        fitted(
            painter,
            pos2(pane.area.left(), y),
            Align2::LEFT_CENTER,
            pane.area.width(),
            text,
            font,
            colour,
        );
    };
    line(0, &title(pane.part, edges), look.words(0.94), palette.text);
    let (level, share) = level_and_share(pane.part, reading);
    let text = format!("{} dBFS · {}", numbers::level(level), numbers::share(share));
    line(1, &text, largest_fitting(painter, look, pane.area.width(), &text), colour);
    if !hidden {
        return;
    }
    for (row, tone) in tones.iter().take(NAMED_TONES).enumerate() {
        let more = if row + 1 == NAMED_TONES && tones.len() > NAMED_TONES {
            format!(" +{}", tones.len() - NAMED_TONES)
        } else {
            String::new()
        };
        let text =
            format!("{} {} dBFS{more}", words::frequency(tone.hz), numbers::level(tone.dbfs));
        line(
            2 + row,
            &text,
            largest_fitting(painter, look, pane.area.width(), &text),
            palette.text,
        );
    }
}

/// The largest of a few sizes in which a line fits into its pane.
fn largest_fitting(painter: &Painter, look: &Look, width: f32, text: &str) -> egui::FontId {
    let sizes = [0.92, 0.86, 0.8, 0.74, 0.68];
    let fits = |font: &egui::FontId| {
        painter.layout_no_wrap(text.to_owned(), font.clone(), look.palette.text).size().x <= width
    };
    sizes.iter().map(|size| look.words(*size)).find(fits).unwrap_or_else(|| look.words(0.6))
}

/// A hidden tone: a stem with a ring at its level.
fn mark(painter: &Painter, look: &Look, pane: &Pane, plot: Rect, tone: &Tone) {
    let (x, top) = (pane.x(tone.hz as f32), tone.dbfs.finite().unwrap_or(f64::NEG_INFINITY) as f32);
    let stroke = Stroke::new(look.units(0.13).max(1.0), look.palette.text);
    let (r, y) = (look.units(0.28), panes::y(plot, top));
    painter.vline(x, y + r..=plot.bottom(), Stroke::new(look.hairline(), look.palette.text));
    painter.circle(pos2(x, y), r, look.palette.panel, stroke);
}

fn name_of(part: Part) -> &'static str {
    match part {
        Part::Below => "below the audible band",
        Part::Audible => "audible band",
        Part::Above => "above the audible band",
    }
}

fn title(part: Part, edges: Edges) -> String {
    match part {
        Part::Below => format!("below {}", words::frequency(edges.low_hz())),
        Part::Audible => "audible band".into(),
        Part::Above => format!("above {}", words::frequency(edges.high_hz())),
    }
}

fn level_and_share(part: Part, reading: &Reading) -> (Level, Option<f64>) {
    let hidden = &reading.hidden;
    match part {
        Part::Below => (hidden.below_dbfs, hidden.below_share),
        Part::Audible => (reading.audible.bus.rms_dbfs, hidden.audible_share),
        Part::Above => (hidden.above_dbfs, hidden.above_share),
    }
}

fn in_words(pane: &Pane, reading: &Reading, edges: Edges, tones: &[&Tone]) -> String {
    let (level, share) = level_and_share(pane.part, reading);
    let (level, share) = (numbers::level(level), numbers::share(share));
    let mut words =
        format!("Spectrum, {}: {level} dBFS, {share} of the energy", title(pane.part, edges));
    for tone in tones {
        words +=
            &format!("; tone at {}, {} dBFS", words::frequency(tone.hz), numbers::level(tone.dbfs));
    }
    words
}
