//! The roles that lines, fills and texts of a chart can have.

use std::fmt::Write;

use maud::{Markup, PreEscaped, html};
use plotters::style::{Color, RGBColor, ShapeStyle, TextStyle};

use super::FINE;
use crate::palette::{self, Colour, Rgb, hex};

/// How strongly a hidden region's ground is tinted.
pub(crate) const SHADE: f64 = 0.10;
/// How strongly the fill under an audible curve is tinted.
pub(crate) const WASH: f64 = 0.16;

/// The role of a line, a fill or a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Ink {
    /// Text that matters.
    Text,
    /// Tick labels and axis titles.
    Quiet,
    /// Lines of the grid.
    Rule,
    /// Axes and edges.
    Axis,
    /// A smooth curve of the whole band, or what was stored.
    Whole,
    /// The same, where it moves fast.
    WholeFine,
    /// A smooth curve of the audible band.
    Audible,
    /// The same, where it moves fast.
    AudibleFine,
    /// The upper edge of a fill.
    AudibleEdge,
    /// Fill under a curve of the audible band.
    AudibleFill,
    /// A curve of hidden content, or a name for it.
    Hidden,
    /// Ground of what nobody hears: tinted and hatched.
    HiddenGround,
    /// Fill under a curve of hidden content.
    HiddenFill,
    /// The export, beside the mix.
    Export,
    /// The same, where it moves fast.
    ExportFine,
    /// What is left of the export without the mix.
    Residual,
    /// Fill under it.
    ResidualFill,
    /// The level aimed at.
    Target,
    /// The highest level allowed.
    Ceiling,
    /// A moment that the user marked.
    Marked,
    /// What lies outside its tolerance.
    Off,
}

/// How a role looks.
struct Look {
    class: &'static str,
    colour: Colour,
    /// Stands for the role in the library's drawing: the colour of bright screens, made unlike that
    /// of every other role.
    mark: Rgb,
    /// Width in units of the page, 0 for what is no line.
    width: f64,
    /// Dashes and gaps in units of drawing.
    dash: &'static str,
}

impl Ink {
    const ALL: [Self; 21] = [
        Self::Text,
        Self::Quiet,
        Self::Rule,
        Self::Axis,
        Self::Whole,
        Self::WholeFine,
        Self::Audible,
        Self::AudibleFine,
        Self::AudibleEdge,
        Self::AudibleFill,
        Self::Hidden,
        Self::HiddenGround,
        Self::HiddenFill,
        Self::Export,
        Self::ExportFine,
        Self::Residual,
        Self::ResidualFill,
        Self::Target,
        Self::Ceiling,
        Self::Marked,
        Self::Off,
    ];

    fn look(self) -> Look {
        let (class, colour, width, dash) = match self {
            Self::Text => ("text", palette::TEXT, 1.0, ""),
            Self::Quiet => ("quiet", palette::QUIET, 1.0, ""),
            Self::Rule => ("rule", palette::RULE, 1.0, ""),
            Self::Axis => ("axis", palette::AXIS, 1.0, ""),
            Self::Whole => ("whole", palette::WHOLE, 1.6, ""),
            Self::WholeFine => ("whole-fine", palette::WHOLE, 1.0, "2 5"),
            Self::Audible => ("audible", palette::AUDIBLE, 3.0, ""),
            Self::AudibleFine => ("audible-fine", palette::AUDIBLE, 1.0, ""),
            Self::AudibleEdge => ("audible-edge", palette::AUDIBLE, 1.6, ""),
            Self::AudibleFill => ("audible-fill", palette::AUDIBLE, 0.0, ""),
            Self::Hidden => ("hidden", palette::HIDDEN, 1.6, ""),
            Self::HiddenGround => ("hidden-ground", palette::HIDDEN, 0.0, ""),
            Self::HiddenFill => ("hidden-fill", palette::HIDDEN, 0.0, ""),
            Self::Export => ("export", palette::NOTE, 3.0, ""),
            Self::ExportFine => ("export-fine", palette::NOTE, 1.6, ""),
            Self::Residual => ("residual", palette::CAUTION, 1.6, ""),
            Self::ResidualFill => ("residual-fill", palette::CAUTION, 0.0, ""),
            Self::Target => ("target", palette::TEXT, 1.6, "14 9"),
            Self::Ceiling => ("ceiling", palette::FAULT, 2.2, ""),
            Self::Marked => ("marked", palette::TEXT, 1.6, "4 6"),
            Self::Off => ("off-mark", palette::FAULT, 2.0, ""),
        };
        // Blue is where a small change shows least.
        let (red, green, blue) = colour.light;
        let mark = (red, green, blue ^ self as u8);
        Look { class, colour, mark, width, dash }
    }

    fn colour(self) -> RGBColor {
        let (red, green, blue) = self.look().mark;
        RGBColor(red, green, blue)
    }

    /// For lines.
    pub(crate) fn line(self) -> ShapeStyle {
        let width = (self.look().width * f64::from(FINE)).round() as u32;
        ShapeStyle { color: self.colour().into(), filled: false, stroke_width: width }
    }

    /// For areas.
    pub(crate) fn fill(self) -> ShapeStyle {
        ShapeStyle { color: self.colour().into(), filled: true, stroke_width: 0 }
    }

    /// For words, at a size in units of the page.
    pub(crate) fn words(self, size: f64) -> TextStyle<'static> {
        // The library divides sizes by 1.24 when it writes them.
        let style = TextStyle::from(("sans-serif", size * 1.24 * f64::from(FINE)));
        TextStyle { color: self.colour().to_backend_color(), ..style }
    }

    fn is_area(self) -> bool {
        matches!(
            self,
            Self::AudibleFill | Self::HiddenGround | Self::HiddenFill | Self::ResidualFill
        )
    }

    /// A short piece of it, for a key.
    pub(crate) fn sample(self) -> Markup {
        let class = self.look().class;
        html! {
            svg.sample viewBox="0 0 64 24" aria-hidden="true" focusable="false" {
                @if self.is_area() {
                    rect class={ "f-" (class) } x="2" y="3" width="60" height="18" {}
                } @else {
                    path class={ "s-" (class) } d="M2 12H62" fill="none"
                        stroke-width=(self.line().stroke_width) {}
                }
            }
        }
    }
}

/// Adds to each mark the class of its role.
pub(super) fn classed(svg: &str) -> String {
    let mut classed = String::with_capacity(svg.len() + svg.len() / 8);
    let mut rest = svg;
    // Every mark stands in an attribute of its own: `fill="#RRGGBB"` or `stroke="#RRGGBB"`.
    while let Some(at) = rest.find("=\"#") {
        let (before, behind) = rest.split_at(at);
        let name = if before.ends_with("stroke") { "stroke" } else { "fill" };
        let ink = behind
            .get(2..9)
            .and_then(|mark| Ink::ALL.into_iter().find(|ink| hex(ink.look().mark) == mark));
        match ink {
            Some(ink) => {
                classed.push_str(before.strip_suffix(name).unwrap_or(before));
                let kind = &name[..1];
                let _ = write!(classed, "class=\"{kind}-{}\" {name}", ink.look().class);
            }
            None => classed.push_str(before),
        }
        let (value, further) = behind.split_at(behind.len().min(9));
        classed.push_str(value);
        rest = further;
    }
    classed.push_str(rest);
    classed
}

/// How the page's style colours each role.
pub(crate) fn style() -> String {
    let mut style = String::from(
        ".chart text{font-family:inherit;font-variant-numeric:tabular-nums}\
         .chart polyline{stroke-linejoin:round}\n",
    );
    for ink in Ink::ALL {
        let Look { class, colour, dash, .. } = ink.look();
        let name = colour.name;
        // Writing to a string cannot fail.
        let _ = match ink {
            Ink::AudibleFill | Ink::HiddenFill | Ink::ResidualFill => {
                writeln!(style, ".f-{class}{{fill:var(--{name});fill-opacity:{WASH}}}")
            }
            Ink::HiddenGround => writeln!(style, ".f-{class}{{fill:url(#hatching)}}"),
            _ => writeln!(style, ".f-{class}{{fill:var(--{name})}}"),
        };
        let _ = write!(style, ".s-{class}{{stroke:var(--{name})");
        if !dash.is_empty() {
            let _ = write!(style, ";stroke-dasharray:{dash}");
        }
        style.push_str("}\n");
    }
    style
}

/// The hatching of hidden regions, which every chart of a page shares.
pub(crate) fn shared_patterns() -> Markup {
    let tint = format!("fill:var(--hidden);fill-opacity:{SHADE}");
    let css = format!(
        "#hatching rect{{{tint}}}#hatching path{{stroke:var(--hidden);stroke-opacity:.4;fill:none}}"
    );
    html! {
        style { (PreEscaped(css)) }
        // Not `display: none`, which would take the pattern from those who use it.
        svg aria-hidden="true" focusable="false" width="0" height="0" style="position:absolute" {
            defs {
                pattern id="hatching" patternUnits="userSpaceOnUse" width="18" height="18" {
                    rect width="18" height="18" {}
                    path d="M-2 20L20 -2M-2 2L2 -2M16 20L20 16" stroke-width="2" {}
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_roles_share_a_mark_or_a_class() {
        for (index, one) in Ink::ALL.into_iter().enumerate() {
            for other in &Ink::ALL[index + 1..] {
                assert_ne!(one.look().mark, other.look().mark, "{one:?} and {other:?}");
                assert_ne!(one.look().class, other.look().class, "{one:?} and {other:?}");
            }
        }
    }

    #[test]
    fn marks_get_the_class_of_their_role_and_other_colours_are_left_alone() {
        let mark = hex(Ink::Target.look().mark);
        let svg = format!("<line stroke=\"{mark}\" x1=\"0\"/><text fill=\"#ABCDEF\">é</text>");
        let expected = format!(
            "<line class=\"s-target\" stroke=\"{mark}\" x1=\"0\"/><text fill=\"#ABCDEF\">é</text>"
        );
        assert_eq!(classed(&svg), expected);
    }
}
