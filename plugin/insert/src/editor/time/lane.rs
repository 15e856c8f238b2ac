//! A lane of levels over time: what is audible filled, what is hidden striped, the whole band a line.

use egui::{Align2, Color32, Mesh, Pos2, Rect, Shape, Stroke, Ui, pos2};
use ledgerline_measure::detector::Detector;
use ledgerline_measure::{Reading, TargetKind, words};

use super::scale::{Held, Scale};
use crate::editor::glance::Glance;
use crate::editor::look::Look;
use crate::editor::palette::tint;
use crate::editor::{marks, panel};
use crate::history::Column;

/// What the peaks' lane reaches from and to, in dBTP: overs need room.
const PEAKS_DBTP: [f64; 2] = [-30.0, 3.0];
/// How far the loudness' lane reaches above and below its middle, in LU.
const AROUND_LU: f64 = 12.0;
/// In the middle where there is neither a target nor a programme, in LUFS.
const MIDDLE_LUFS: f64 = -23.0;
/// Steps of the middle, in LU, and how far the programme moves before it follows.
const MIDDLE_STEP_LU: f64 = 6.0;
/// How strongly the audible is filled.
const FILL: f32 = 0.5;
/// Width of a stripe, in units.
const STRIPE_UNITS: f32 = 0.28;

/// A line across the lane, with a name.
struct Limit {
    level: f64,
    name: &'static str,
}

/// A lane.
pub(super) struct Lane {
    title: &'static str,
    /// Lowest and highest level.
    range: [f64; 2],
    step: f64,
    limit: Option<Limit>,
    of: fn(&Column) -> [f32; 2],
    marks_overs: bool,
    /// Whether the user's own meter is drawn here.
    has_yours: bool,
}

/// Whether the user's own meter reads loudness, if there is one.
fn yours_is_loudness(reading: &Reading) -> Option<bool> {
    reading.your_meter.map(|read| read.meter.kind.detector == Detector::Momentary)
}

/// True peaks.
pub(super) fn peaks(reading: &Reading) -> Lane {
    Lane {
        title: "dBTP",
        range: PEAKS_DBTP,
        step: 10.0,
        limit: Some(Limit { level: reading.room.ceiling_db, name: "ceiling" }),
        of: |column| column.true_peak_dbtp,
        marks_overs: true,
        has_yours: yours_is_loudness(reading) == Some(false),
    }
}

/// Short-term loudness, around the target or the programme.
pub(super) fn loudness(reading: &Reading, held: &mut Held) -> Lane {
    let target = reading.room.target.filter(|target| target.kind == TargetKind::Loudness);
    let programme = reading.audible.bus.integrated_lufs.finite();
    let middle = match (target, programme) {
        (Some(target), _) => target.value,
        (None, None) => held.middle_lufs.unwrap_or(MIDDLE_LUFS),
        (None, Some(lufs)) => match held.middle_lufs {
            Some(middle) if (middle - lufs).abs() <= MIDDLE_STEP_LU => middle,
            _ => (lufs / MIDDLE_STEP_LU).round() * MIDDLE_STEP_LU,
        },
    };
    held.middle_lufs = Some(middle);
    Lane {
        title: "LUFS",
        range: [middle - AROUND_LU, middle + AROUND_LU],
        step: 6.0,
        limit: target.map(|target| Limit { level: target.value, name: "target" }),
        of: |column| column.short_term_lufs,
        marks_overs: false,
        has_yours: yours_is_loudness(reading) == Some(true),
    }
}

/// A column as it is drawn: from where to where, and where its levels lie.
struct Drawn {
    left: f32,
    right: f32,
    whole: Option<f32>,
    audible: Option<f32>,
    yours: Option<f32>,
    overs: bool,
}

impl Lane {
    /// Where a level lies; what is lower than the lane at its foot.
    pub(super) fn y(&self, lane: Rect, level: f64) -> f32 {
        let [low, high] = self.range;
        let share = (level - low) / (high - low);
        // `clamp` would hand on a NaN.
        let share = if share > 0.0 { share.min(1.0) } else { 0.0 };
        lane.bottom() - share as f32 * lane.height()
    }

    /// Draws the lane.
    pub(super) fn draw(&self, ui: &Ui, look: &Look, lane: Rect, glance: &Glance, scale: &Scale) {
        let palette = look.palette;
        let painter = ui.painter().with_clip_rect(lane.intersect(ui.clip_rect()));
        self.grid(ui, look, lane);
        let runs = self.runs(lane, glance, scale);
        for run in &runs {
            let top = |drawn: &Drawn| drawn.audible;
            painter.add(area(run, lane.bottom(), top, tint(palette.audible, FILL)));
            painter.add(stripes(run, scale, look.units(STRIPE_UNITS), palette.hidden));
            for line in lines(run, |drawn| drawn.whole) {
                painter.line(line, Stroke::new(look.units(0.1).max(1.0), palette.whole));
            }
            for line in lines(run, |drawn| drawn.yours) {
                painter.line(line, Stroke::new(look.units(0.17).max(1.5), palette.text));
            }
        }
        if let Some(limit) = &self.limit {
            let y = self.y(lane, limit.level);
            marks::dashed_horizontal(
                &painter,
                lane.x_range(),
                y,
                Stroke::new(look.units(0.13).max(1.0), palette.text),
            );
        }
        if self.marks_overs {
            for drawn in runs.iter().flatten().filter(|drawn| drawn.overs) {
                let tip = pos2((drawn.left + drawn.right) / 2.0, lane.top() + look.units(0.7));
                marks::over(&painter, look, tip);
            }
        }
        let words = || format!("{} over time", self.title);
        panel::describe(ui, lane, self.title, words);
    }

    /// Levels at the left, and lines across.
    fn grid(&self, ui: &Ui, look: &Look, lane: Rect) {
        let (painter, palette) = (ui.painter(), look.palette);
        painter.rect_filled(lane, 0.0, tint(palette.ground, 0.6));
        let right = lane.left() - look.units(0.3);
        let font = look.digits(1.0);
        let half = font.size * 0.5;
        let mut taken: Vec<f32> = Vec::new();
        let mut label = |y: f32, text: &str, font, colour| {
            let y = y.clamp(lane.top() + half, lane.bottom() - half);
            if taken.iter().all(|other| (other - y).abs() >= 2.0 * half) {
                painter.text(pos2(right, y), Align2::RIGHT_CENTER, text, font, colour);
                taken.push(y);
            }
        };
        label(lane.bottom(), self.title, look.words(1.0), palette.text);
        if let Some(limit) = &self.limit {
            label(self.y(lane, limit.level), limit.name, look.words(1.0), palette.text);
        }
        let [low, high] = self.range;
        let mut level = (high / self.step).floor() * self.step;
        while level > low {
            let y = self.y(lane, level);
            painter.hline(lane.x_range(), y, Stroke::new(look.hairline(), palette.rule));
            label(y, &words::signed(level, 0), font.clone(), palette.quiet);
            level -= self.step;
        }
    }

    /// The columns that are shown, in runs without a gap.
    fn runs(&self, lane: Rect, glance: &Glance, scale: &Scale) -> Vec<Vec<Drawn>> {
        let (columns, width_s) = glance.columns().of(scale.span);
        let mut runs: Vec<Vec<Drawn>> = Vec::new();
        let mut before: Option<&Column> = None;
        for column in columns.filter(|column| column.end_s > scale.start_s()) {
            if column.start_s > scale.end_s() {
                break;
            }
            let [whole, audible] = (self.of)(column);
            let y = |level: f32| (!level.is_nan()).then(|| self.y(lane, f64::from(level)));
            let drawn = Drawn {
                left: scale.x(column.start_s),
                right: scale.x(column.end_s),
                whole: y(whole),
                audible: y(audible),
                yours: y(column.your_meter_db).filter(|_| self.has_yours),
                overs: column.overs > 0,
            };
            match runs.last_mut() {
                Some(run) if before.is_some_and(|b| !b.is_apart_from(column, width_s)) => {
                    run.push(drawn);
                }
                _ => runs.push(vec![drawn]),
            }
            before = Some(column);
        }
        runs
    }
}

/// What lies under a run of columns.
fn area(run: &[Drawn], base: f32, top: fn(&Drawn) -> Option<f32>, colour: Color32) -> Shape {
    let mut mesh = Mesh::default();
    for drawn in run {
        if let Some(top) = top(drawn) {
            mesh.add_colored_rect(
                Rect::from_min_max(pos2(drawn.left, top), pos2(drawn.right, base)),
                colour,
            );
        }
    }
    Shape::mesh(mesh)
}

/// Stripes between what is audible and the whole, where that lies higher. They move with the sound.
fn stripes(run: &[Drawn], scale: &Scale, width: f32, colour: Color32) -> Shape {
    let mut mesh = Mesh::default();
    let origin = scale.x(0.0);
    for drawn in run {
        let (Some(whole), Some(audible)) = (drawn.whole, drawn.audible) else { continue };
        if audible - whole < 1.0 {
            continue;
        }
        let mut stripe = ((drawn.left - origin) / (2.0 * width)).floor();
        loop {
            let left = (origin + stripe * 2.0 * width).max(drawn.left);
            let right = (origin + (stripe * 2.0 + 1.0) * width).min(drawn.right);
            if left >= drawn.right {
                break;
            }
            if right > left {
                let place = Rect::from_min_max(pos2(left, whole), pos2(right, audible));
                mesh.add_colored_rect(place, colour);
            }
            stripe += 1.0;
        }
    }
    Shape::mesh(mesh)
}

/// A line, where there is one.
fn lines(run: &[Drawn], of: fn(&Drawn) -> Option<f32>) -> Vec<Vec<Pos2>> {
    let mut lines: Vec<Vec<Pos2>> = vec![Vec::new()];
    for drawn in run {
        match of(drawn) {
            Some(y) => {
                let line = lines.last_mut().expect("there is one");
                line.push(pos2(drawn.left, y));
                line.push(pos2(drawn.right, y));
            }
            None => lines.push(Vec::new()),
        }
    }
    lines.retain(|line| line.len() > 1);
    lines
}

/// Names what the lanes show.
pub(super) fn legend(ui: &Ui, look: &Look, place: Rect, reading: &Reading) {
    let (painter, palette) = (ui.painter(), look.palette);
    let (mut x, y) = (place.left(), place.center().y);
    let side = look.units(0.9);
    let yours = reading.your_meter.map(|_| "your meter");
    let names = ["audible", "hidden", "whole band", "over"].into_iter().chain(yours);
    for (index, name) in names.enumerate() {
        let galley = painter.layout_no_wrap(name.to_owned(), look.words(1.0), palette.quiet);
        if x + side + look.units(0.4) + galley.size().x > place.right() {
            return;
        }
        let sign = Rect::from_min_size(pos2(x, y - side / 2.0), egui::vec2(side, side));
        match index {
            0 => {
                painter.rect_filled(sign, 0.0, tint(palette.audible, FILL));
            }
            1 => {
                let width = look.units(STRIPE_UNITS);
                for stripe in 0..2 {
                    let left = sign.left() + 2.0 * width * stripe as f32;
                    let size = egui::vec2(width, side);
                    let stripe = Rect::from_min_size(pos2(left, sign.top()), size);
                    painter.rect_filled(stripe, 0.0, palette.hidden);
                }
            }
            2 => {
                let stroke = Stroke::new(look.units(0.1).max(1.0), palette.whole);
                painter.hline(sign.x_range(), y, stroke);
            }
            3 => marks::over(painter, look, pos2(sign.center().x, y + look.units(0.35))),
            _ => {
                let stroke = Stroke::new(look.units(0.17).max(1.5), palette.text);
                painter.hline(sign.x_range(), y, stroke);
            }
        }
        x = sign.right() + look.units(0.4);
        let at = Align2::LEFT_CENTER.anchor_size(pos2(x, y), galley.size());
        x = at.right() + look.units(1.0);
        painter.galley(at.min, galley, palette.quiet);
    }
    let text = "short-term loudness";
    let galley = painter.layout_no_wrap(text.to_owned(), look.words(1.0), palette.quiet);
    if x + galley.size().x <= place.right() {
        let at = Align2::LEFT_CENTER.anchor_size(pos2(x, y), galley.size());
        painter.galley(at.min, galley, palette.quiet);
    }
}
