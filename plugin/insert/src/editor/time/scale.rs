//! Where a moment lies.

use egui::Rangef;

use super::ViewState;
use crate::editor::glance::Glance;
use crate::history::Span;

/// The shortest time that is shown, in seconds.
const LEAST_S: f64 = 20.0;
/// How far the clock of the screen may run ahead of the latest column, in seconds: columns come a
/// tenth of a second each, and the picture moves in between.
const AHEAD_S: f64 = 0.25;

/// What makes the picture move evenly, and levels stay in their place.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Held {
    /// The end of the latest column, and when it came, by the clock of the screen.
    latest: Option<(f64, f64)>,
    /// In the middle of the loudness lane, in LUFS.
    pub(super) middle_lufs: Option<f64>,
}

/// Moments along the width of the lanes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Scale {
    /// How much time is shown.
    pub(super) span: Span,
    x: Rangef,
    start_s: f64,
    end_s: f64,
}

impl Scale {
    pub(super) fn new(x: Rangef, glance: &Glance, state: &mut ViewState) -> Self {
        let columns = glance.columns();
        let latest_s = columns.latest().map_or(0.0, |column| column.end_s);
        let clock_s = glance.clock_s;
        let held = &mut state.scale;
        let came_s = match held.latest {
            Some((end_s, came_s)) if end_s == latest_s => came_s,
            _ => clock_s,
        };
        held.latest = Some((latest_s, came_s));
        let end_s =
            latest_s + if glance.stands_still { 0.0 } else { (clock_s - came_s).min(AHEAD_S) };
        let start_s = match state.span.seconds() {
            Some(seconds) => end_s - seconds,
            None => columns.start_s().min(end_s - LEAST_S),
        };
        Self { span: state.span, x, start_s, end_s }
    }

    /// Where a moment lies.
    pub(super) fn x(&self, at_s: f64) -> f32 {
        let share = (at_s - self.start_s) / (self.end_s - self.start_s);
        self.x.min + share as f32 * self.x.span()
    }

    /// Which moment lies there.
    pub(super) fn at_s(&self, x: f32) -> f64 {
        let share = f64::from((x - self.x.min) / self.x.span());
        self.start_s + share * (self.end_s - self.start_s)
    }

    pub(super) fn start_s(&self) -> f64 {
        self.start_s
    }

    pub(super) fn end_s(&self) -> f64 {
        self.end_s
    }

    /// How much time is shown.
    pub(super) fn seconds(&self) -> f64 {
        self.end_s - self.start_s
    }

    /// Whether a moment is shown.
    pub(super) fn holds(&self, at_s: f64) -> bool {
        (self.start_s..=self.end_s).contains(&at_s)
    }
}
