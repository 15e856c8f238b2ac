//! The measure of the screen: one unit from which every size follows, so that all text scales with
//! the window, and the two typefaces.

use egui::{FontId, Vec2};

use super::palette::Palette;
use crate::params::window::Theme;

/// Units that a window is wide and high whose text is as large as it can be.
const WIDTH_UNITS: f32 = 78.0;
const HEIGHT_UNITS: f32 = 54.0;
/// No text is smaller than this, in points; what finds no space then is left out.
pub const LEAST_TEXT_POINTS: f32 = 11.0;

/// Size of a unit, and the colours: what every widget needs to draw itself.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Look {
    /// A unit in points: about the height of body text.
    pub unit: f32,
    /// The colours.
    pub palette: &'static Palette,
}

impl Look {
    /// The look for a window of `size` points.
    #[must_use]
    pub fn new(size: Vec2, theme: Theme) -> Self {
        let unit = (size.x / WIDTH_UNITS).min(size.y / HEIGHT_UNITS);
        // Whole steps: each size of a glyph is drawn into the font texture once, and a window
        // that is being dragged would fill it otherwise.
        let unit = ((unit * 8.0).floor() / 8.0).max(LEAST_TEXT_POINTS);
        Self { unit, palette: Palette::of(theme) }
    }

    /// A length of so many units, in points.
    #[must_use]
    pub fn units(&self, units: f32) -> f32 {
        units * self.unit
    }

    /// The typeface of words.
    #[must_use]
    pub fn words(&self, units: f32) -> FontId {
        FontId::proportional(self.units(units).max(LEAST_TEXT_POINTS))
    }

    /// The typeface of numbers: every digit, sign and blank has the same width.
    #[must_use]
    pub fn digits(&self, units: f32) -> FontId {
        FontId::monospace(self.units(units).max(LEAST_TEXT_POINTS))
    }

    /// Width of a hairline, in points.
    #[must_use]
    pub fn hairline(&self) -> f32 {
        self.units(0.07).max(1.0)
    }
}
