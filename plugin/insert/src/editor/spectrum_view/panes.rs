//! The three panes of the spectrum: below the audible band, the audible band, above it. Each has a
//! logarithmic frequency axis of its own, so that a narrow hidden region can be read as well.

use egui::{Rect, pos2};
use ledgerline_measure::Spectrum;
use ledgerline_measure::spectrum::SPECTRUM_POINTS;

use crate::editor::look::Look;

/// Bottom of the level axis, in dBFS.
pub const LOWEST_DBFS: f32 = -120.0;
/// Top of the level axis, in dBFS.
pub const HIGHEST_DBFS: f32 = 0.0;
/// Space between two panes, in units.
const GAP_UNITS: f32 = 0.45;

/// Which part of the spectrum a pane shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// Below the lower edge.
    Below,
    /// Between the edges.
    Audible,
    /// Above the upper edge.
    Above,
}

/// A part of the frequency axis and where it is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pane {
    /// Which part.
    pub part: Part,
    /// Frequency at the left edge, in Hz.
    pub low_hz: f32,
    /// Frequency at the right edge, in Hz.
    pub high_hz: f32,
    /// From heading to tick labels.
    pub area: Rect,
}

impl Pane {
    /// Where a frequency lies.
    #[must_use]
    pub fn x(&self, hz: f32) -> f32 {
        let share = (hz / self.low_hz).log2() / (self.high_hz / self.low_hz).log2();
        self.area.left() + share.clamp(0.0, 1.0) * self.area.width()
    }

    /// Which frequency lies there.
    #[must_use]
    pub fn hz(&self, x: f32) -> f32 {
        let share = (x - self.area.left()) / self.area.width();
        self.low_hz * (self.high_hz / self.low_hz).powf(share)
    }

    /// Whether a frequency lies in the pane.
    #[must_use]
    pub fn holds(&self, hz: f32) -> bool {
        (self.low_hz..=self.high_hz).contains(&hz)
    }

    /// The curve of `levels_dbfs` in the pane, within `plot` and from edge to edge.
    #[must_use]
    pub fn curve(
        &self,
        plot: Rect,
        spectrum: &Spectrum,
        levels_dbfs: &[f32; SPECTRUM_POINTS],
    ) -> Vec<egui::Pos2> {
        let mut points = Vec::with_capacity(SPECTRUM_POINTS);
        points.push(pos2(self.area.left(), y(plot, at(spectrum, levels_dbfs, self.low_hz))));
        for (index, level) in levels_dbfs.iter().enumerate() {
            let hz = spectrum.hz(index);
            if hz > self.low_hz && hz < self.high_hz {
                points.push(pos2(self.x(hz), y(plot, *level)));
            }
        }
        points.push(pos2(self.area.right(), y(plot, at(spectrum, levels_dbfs, self.high_hz))));
        points
    }
}

/// Where a level lies; silence and what is lower than the axis at its foot.
#[must_use]
pub fn y(plot: Rect, level_dbfs: f32) -> f32 {
    let share = (level_dbfs - LOWEST_DBFS) / (HIGHEST_DBFS - LOWEST_DBFS);
    // `clamp` would hand on a NaN, and the painter with it.
    let share = if share > 0.0 { share.min(1.0) } else { 0.0 };
    plot.bottom() - share * plot.height()
}

/// The level at a frequency, between two points of the spectrum; what is lower than the axis at its foot.
#[must_use]
pub fn at(spectrum: &Spectrum, levels_dbfs: &[f32; SPECTRUM_POINTS], hz: f32) -> f32 {
    let octaves = (spectrum.high_hz / spectrum.low_hz).log2();
    let position = (hz / spectrum.low_hz).log2() / octaves * (SPECTRUM_POINTS - 1) as f32;
    let position = position.clamp(0.0, (SPECTRUM_POINTS - 1) as f32);
    let index = (position as usize).min(SPECTRUM_POINTS - 2);
    let share = position - index as f32;
    let left = levels_dbfs[index].max(LOWEST_DBFS);
    let right = levels_dbfs[index + 1].max(LOWEST_DBFS);
    left + (right - left) * share
}

/// The panes of a spectrum in `area`: no pane above where the rate holds nothing there.
#[must_use]
pub fn panes(
    look: &Look,
    area: Rect,
    spectrum: &Spectrum,
    low_edge_hz: f32,
    high_edge_hz: f32,
) -> Vec<Pane> {
    let gap = look.units(GAP_UNITS);
    let low_edge_hz = low_edge_hz.max(spectrum.low_hz * 1.01);
    let has_above = spectrum.high_hz > high_edge_hz * 1.001;
    let below_width = (area.width() * 0.23).max(look.units(6.6));
    let above_width = if has_above { (area.width() * 0.28).max(look.units(8.0)) } else { 0.0 };
    let audible_left = area.left() + below_width + gap;
    let audible_right = area.right() - if has_above { above_width + gap } else { 0.0 };
    let pane = |part, low_hz, high_hz, left, right| Pane {
        part,
        low_hz,
        high_hz,
        area: Rect::from_x_y_ranges(left..=right, area.y_range()),
    };
    let top_hz = if has_above { high_edge_hz } else { spectrum.high_hz };
    let mut panes = vec![
        pane(Part::Below, spectrum.low_hz, low_edge_hz, area.left(), audible_left - gap),
        pane(Part::Audible, low_edge_hz, top_hz, audible_left, audible_right),
    ];
    if has_above {
        panes.push(pane(
            Part::Above,
            high_edge_hz,
            spectrum.high_hz,
            audible_right + gap,
            area.right(),
        ));
    }
    panes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::params::window::Theme;
    use egui::vec2;

    fn area() -> Rect {
        Rect::from_min_size(pos2(0.0, 0.0), vec2(400.0, 100.0))
    }

    #[test]
    fn every_frequency_lies_in_one_pane() {
        let look = Look::new(vec2(720.0, 530.0), Theme::Dark);
        let spectrum = Spectrum { high_hz: 48_000.0, ..Spectrum::default() };
        let panes = panes(&look, area(), &spectrum, 20.0, 20_000.0);
        assert_eq!(panes.len(), 3);
        for hz in [2.5, 12.0, 25.0, 1_000.0, 19_999.0, 31_000.0, 47_000.0] {
            assert_eq!(panes.iter().filter(|p| p.holds(hz)).count(), 1, "{hz} Hz");
        }
        assert!(panes.windows(2).all(|p| p[0].area.right() < p[1].area.left()));
    }

    #[test]
    fn nothing_is_above_an_edge_over_half_the_rate() {
        let look = Look::new(vec2(720.0, 530.0), Theme::Dark);
        let spectrum = Spectrum { high_hz: 16_000.0, ..Spectrum::default() };
        let panes = panes(&look, area(), &spectrum, 20.0, 20_000.0);
        assert_eq!(panes.last().map(|p| (p.part, p.high_hz)), Some((Part::Audible, 16_000.0)));
    }

    #[test]
    fn no_level_leaves_the_plot() {
        for level in [f32::NEG_INFINITY, f32::NAN, -400.0, 600.0, f32::INFINITY] {
            let y = y(area(), level);
            assert!((0.0..=100.0).contains(&y), "{level} dBFS at {y}");
        }
    }
}
