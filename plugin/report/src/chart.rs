//! Charts as vector drawings inside the page. The drawing library writes plain colours; each of
//! them is a role here, and the finished drawing carries the role's name as a class, so that the
//! page's style can colour it for bright screens, dark screens and paper, and dash what must not
//! differ by colour alone. Taken out of the page, a drawing keeps the colours of a bright screen.

mod frame;
mod ink;
mod marks;
mod thin;
mod ticks;

// The charts.
pub(crate) mod changes;
pub(crate) mod history;
pub(crate) mod lines;
pub(crate) mod spectrum;

use maud::{Markup, PreEscaped, html};
use plotters::backend::SVGBackend;
use plotters::coord::Shift;
use plotters::drawing::{DrawingArea, DrawingAreaErrorKind, IntoDrawingArea};

use crate::wide::wide;
pub(crate) use frame::{Frame, Plot};
pub(crate) use ink::{Ink, shared_patterns, style};
#[cfg(test)]
pub(crate) use ink::{SHADE, WASH};
pub(crate) use marks::Mark;
pub(crate) use thin::thinned;
pub(crate) use ticks::{SHORTEST_CLOCK_S, TimeAxis, clock_ticks, level_ticks};

/// Units of drawing to a unit of the page: the library draws at whole units only.
pub(crate) const FINE: i32 = 2;
/// Width of a chart on the page, in units of the page at its natural size.
pub(crate) const WIDTH: i32 = 960;

/// What charts are drawn on.
pub(crate) type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;
/// Drawing into a text cannot fail, but the library's signatures say that it might.
pub(crate) type DrawError = DrawingAreaErrorKind<std::io::Error>;

/// What a chart is called and what it says to those who do not see it.
pub(crate) struct Words {
    /// Tells this chart from all others of the page.
    pub id: String,
    /// Its name.
    pub title: String,
    /// What is to be seen in it, in a sentence or two.
    pub description: String,
}

/// Draws a chart of `height` units of the page and wraps it for readers of every kind.
pub(crate) fn drawn(
    words: &Words,
    height: i32,
    draw: impl FnOnce(&Area) -> Result<(), DrawError>,
) -> Markup {
    let size = ((WIDTH * FINE) as u32, (height * FINE) as u32);
    let mut svg = String::new();
    let outcome = {
        let area = SVGBackend::with_string(&mut svg, size).into_drawing_area();
        draw(&area).and_then(|()| area.present())
    };
    if outcome.is_err() {
        return html! { p { "This chart could not be drawn; its numbers are in the table." } };
    }
    let (title_id, description_id) = (format!("{}-t", words.id), format!("{}-d", words.id));
    html! {
        svg.chart role="img" aria-labelledby=(title_id) aria-describedby=(description_id)
            viewBox=(format!("0 0 {} {}", size.0, size.1)) {
            title id=(title_id) { (words.title) }
            desc id=(description_id) { (words.description) }
            (PreEscaped(ink::classed(inner(&svg))))
        }
    }
}

/// What stands inside the drawing's outermost element.
fn inner(svg: &str) -> &str {
    let start = svg.find('>').map_or(0, |end| end + 1);
    let end = svg.rfind("</svg>").unwrap_or(svg.len());
    svg.get(start..end).unwrap_or_default()
}

/// A chart with its heading, its key, and the same numbers as a table.
pub(crate) struct Figure {
    /// Heading, and what it shows.
    pub caption: Markup,
    /// Lines of the key: how it looks, and what it means.
    pub key: Vec<(Ink, &'static str)>,
    /// The drawing.
    pub drawing: Markup,
    /// What the table holds.
    pub table_label: String,
    /// The table.
    pub table: Markup,
}

impl Figure {
    pub(crate) fn markup(&self) -> Markup {
        html! {
            figure {
                figcaption {
                    (self.caption)
                    @if !self.key.is_empty() {
                        ul.key {
                            @for (ink, meaning) in &self.key { li { (ink.sample()) (meaning) } }
                        }
                    }
                }
                (wide("Chart", &self.drawing))
            }
            details {
                summary { (self.table_label) }
                (wide(&self.table_label, &self.table))
            }
        }
    }
}
