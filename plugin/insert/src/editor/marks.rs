//! The marks of the screen. Shape says what is measured (triangle: peak; diamond: energy or
//! loudness), filling says in which band (hollow: whole; filled: audible), hatching says hidden.

use egui::{Align2, Color32, Mesh, Painter, Pos2, Rangef, Rect, Shape, Stroke, pos2, vec2};
use ledgerline_measure::verdict::Severity;

use super::look::Look;
use super::palette::{Palette, tint};

/// How strongly the ground of hidden content is shaded.
pub const HIDDEN_SHADE: f32 = 0.10;

/// A band, for how a mark is filled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Band {
    /// Hollow.
    Whole,
    /// Filled.
    Audible,
}

impl Band {
    /// The band's colour.
    #[must_use]
    pub fn colour(self, palette: &Palette) -> Color32 {
        match self {
            Self::Whole => palette.whole,
            Self::Audible => palette.audible,
        }
    }
}

/// A peak: a triangle whose tip lies on `tip`, to its right.
pub fn peak(painter: &Painter, look: &Look, tip: Pos2, band: Band) {
    let (long, half) = (look.units(0.85), look.units(0.46));
    let base = [tip + vec2(long, -half), tip + vec2(long, half)];
    outline(painter, look, vec![tip, base[0], base[1]], band);
}

/// An energy or a loudness: a diamond around `centre`.
pub fn energy(painter: &Painter, look: &Look, centre: Pos2, band: Band) {
    let r = look.units(0.5);
    let corners = [vec2(0.0, -r), vec2(r, 0.0), vec2(0.0, r), vec2(-r, 0.0)];
    outline(painter, look, corners.iter().map(|c| centre + *c).collect(), band);
}

fn outline(painter: &Painter, look: &Look, corners: Vec<Pos2>, band: Band) {
    let colour = band.colour(look.palette);
    let fill = if band == Band::Audible { colour } else { look.palette.panel };
    let stroke = Stroke::new(look.units(0.13).max(1.0), colour);
    painter.add(Shape::convex_polygon(corners, fill, stroke));
}

/// Shade and diagonal lines over a rectangle: hidden content.
pub fn hatching(painter: &Painter, look: &Look, rect: Rect) {
    painter.rect_filled(rect, 0.0, tint(look.palette.hidden, HIDDEN_SHADE));
    hatch_lines(
        painter,
        rect,
        look.units(0.62),
        Stroke::new(look.hairline(), tint(look.palette.hidden, 0.45)),
    );
}

/// Close diagonal lines over a rectangle, for small areas.
pub fn dense_hatching(painter: &Painter, look: &Look, rect: Rect) {
    painter.rect_filled(rect, 0.0, tint(look.palette.hidden, 0.3));
    hatch_lines(painter, rect, look.units(0.34), Stroke::new(look.hairline(), look.palette.hidden));
}

/// Lines `x + y = constant`, cut to the rectangle.
fn hatch_lines(painter: &Painter, rect: Rect, spacing: f32, stroke: Stroke) {
    let (first, last) = (rect.left() + rect.top(), rect.right() + rect.bottom());
    // Anchored to the screen, so that the lines of neighbours meet and do not crawl.
    let mut sum = (first / spacing).ceil() * spacing;
    while sum < last {
        let from_x = (sum - rect.top()).min(rect.right());
        let to_x = (sum - rect.bottom()).max(rect.left());
        painter.line_segment([pos2(from_x, sum - from_x), pos2(to_x, sum - to_x)], stroke);
        sum += spacing;
    }
}

/// A vertical line of dashes.
pub fn dashed_vertical(painter: &Painter, x: f32, from_y: f32, to_y: f32, stroke: Stroke) {
    let dash = (to_y - from_y).abs() / 25.0;
    let ends = [pos2(x, from_y), pos2(x, to_y)];
    painter.extend(Shape::dashed_line(&ends, stroke, dash, dash * 0.7));
}

/// A horizontal line of dashes.
pub fn dashed_horizontal(painter: &Painter, x: Rangef, y: f32, stroke: Stroke) {
    let ends = [pos2(x.min, y), pos2(x.max, y)];
    let dash = 6.0 * stroke.width.max(1.0);
    painter.extend(Shape::dashed_line(&ends, stroke, dash, dash * 0.7));
}

/// An over: a triangle that points at it from above, in the colour of a fault.
pub fn over(painter: &Painter, look: &Look, tip: Pos2) {
    let (high, half) = (look.units(0.7), look.units(0.36));
    let corners = vec![tip, tip + vec2(-half, -high), tip + vec2(half, -high)];
    let stroke = Stroke::new(1.0, look.palette.panel);
    painter.add(Shape::convex_polygon(corners, look.palette.fault, stroke));
}

/// The colour of a severity.
#[must_use]
pub fn severity_colour(palette: &Palette, severity: Severity) -> Color32 {
    match severity {
        Severity::Clear => palette.clear,
        Severity::Note => palette.note,
        Severity::Caution => palette.caution,
        Severity::Fault => palette.fault,
    }
}

/// The sign of a severity, as tall as `rect`: each has an outline of its own.
pub fn severity(painter: &Painter, look: &Look, rect: Rect, severity: Severity) {
    let colour = severity_colour(look.palette, severity);
    let (centre, r) = (rect.center(), rect.height().min(rect.width()) / 2.0);
    let stroke = Stroke::new((r * 0.16).max(1.0), colour);
    match severity {
        Severity::Clear => {
            painter.circle_stroke(centre, r * 0.9, stroke);
            let tick = [vec2(-0.42, 0.02), vec2(-0.1, 0.36), vec2(0.44, -0.34)];
            painter.line(tick.iter().map(|t| centre + *t * r).collect(), stroke);
        }
        Severity::Note => {
            painter.circle_stroke(centre, r * 0.9, stroke);
            bar_and_dot(painter, centre, r, colour, -1.0);
        }
        Severity::Caution => {
            let corners = [vec2(0.0, -0.95), vec2(1.05, 0.85), vec2(-1.05, 0.85)];
            painter
                .add(Shape::closed_line(corners.iter().map(|c| centre + *c * r).collect(), stroke));
            bar_and_dot(painter, centre + vec2(0.0, r * 0.22), r * 0.8, colour, 1.0);
        }
        Severity::Fault => {
            let side = Rect::from_center_size(centre, vec2(r, r) * 1.8);
            painter.rect_filled(side, r * 0.2, colour);
            let (d, stroke) = (r * 0.45, Stroke::new((r * 0.2).max(1.0), look.palette.panel));
            painter.line_segment([centre + vec2(-d, -d), centre + vec2(d, d)], stroke);
            painter.line_segment([centre + vec2(-d, d), centre + vec2(d, -d)], stroke);
        }
    }
}

/// An exclamation mark (`down` = 1) or, upside down, the letter i (`down` = −1).
fn bar_and_dot(painter: &Painter, centre: Pos2, r: f32, colour: Color32, down: f32) {
    let at = |y: f32| centre + vec2(0.0, y * down * r);
    painter.line_segment([at(-0.5), at(0.16)], Stroke::new((r * 0.19).max(1.0), colour));
    painter.circle_filled(at(0.44), (r * 0.13).max(0.7), colour);
}

/// The area between a line and a base, filled: `top` from left to right.
pub fn area(top: &[Pos2], base_y: f32, colour: Color32) -> Shape {
    let mut mesh = Mesh::default();
    for (index, point) in top.iter().enumerate() {
        mesh.colored_vertex(*point, colour);
        mesh.colored_vertex(pos2(point.x, base_y), colour);
        if index > 0 {
            let i = 2 * index as u32;
            mesh.add_triangle(i - 2, i - 1, i);
            mesh.add_triangle(i - 1, i, i + 1);
        }
    }
    Shape::mesh(mesh)
}

/// Words in the largest of some sizes (in units, falling) in which they fit into `space`, else in
/// the smallest.
pub fn fitting(
    painter: &Painter,
    look: &Look,
    sizes: &[f32],
    space: egui::Vec2,
    words: &str,
) -> std::sync::Arc<egui::Galley> {
    let size = fitting_size(painter, look, sizes, space, words);
    painter.layout(words.to_owned(), look.words(size), look.palette.text, space.x)
}

/// The size in which [`fitting`] draws.
pub fn fitting_size(
    painter: &Painter,
    look: &Look,
    sizes: &[f32],
    space: egui::Vec2,
    words: &str,
) -> f32 {
    let fits = |size: &&f32| {
        let font = look.words(**size);
        let galley = painter.layout(words.to_owned(), font, look.palette.text, space.x);
        galley.size().y <= space.y
    };
    sizes.iter().find(fits).or(sizes.last()).copied().unwrap_or(1.0)
}

/// Text in one line within `width`, elided where it does not fit.
pub fn fitted(
    painter: &Painter,
    at: Pos2,
    anchor: Align2,
    width: f32,
    text: &str,
    font: egui::FontId,
    colour: Color32,
) -> Rect {
    let mut job = egui::text::LayoutJob::simple_singleline(text.to_owned(), font, colour);
    job.wrap = egui::text::TextWrapping::truncate_at_width(width.max(1.0));
    let galley = painter.layout_job(job);
    let rect = anchor.anchor_size(at, galley.size());
    painter.galley(rect.min, galley, colour);
    rect
}
