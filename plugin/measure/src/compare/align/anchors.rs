//! Anchors: moments at which export and mix are laid over each other sample by sample.
//!
//! First by correlation around the place that is roughly known, which gives the delay to a small
//! part of a sample; then, once the mix can be evaluated at the places found, by the slope of the
//! phase that is left, which gives it as exactly as the noise between the two files allows.

mod correlate;
mod first;
mod left_over;
mod second;
mod weight;

use std::ops::Range;

use super::mapping::Covariance;
use crate::compare::spectra::MeanSpectrum;
use crate::compare::timeline::Timeline;
pub(in crate::compare) use first::find;
pub(in crate::compare) use second::tune;
use weight::Weight;

/// Length of an anchor's window, in seconds, before it is rounded up to a power of two.
const WINDOW_S: f64 = 0.2;
/// Anchors are this far apart, in seconds: a 400th of the file, within limits.
const APART_S: (f64, f64) = (0.25, 2.0);
const ANCHORS: f64 = 400.0;
/// Windows that a thread takes at a time.
const PART_WINDOWS: usize = 16;
/// Most channels of each file that are correlated with each other.
const MOST_CHANNELS: usize = 8;
/// A window with less than this mean square, in both files, tells nothing: −130 dBFS.
const SILENCE_POWER: f64 = 1e-13;
/// Content below is left out of the covariances, in Hz, and above this share of half the lower rate.
const LOW_HZ: f64 = 60.0;
const HIGH_SHARE: f64 = 0.75;
/// Likeness of a channel whose delay against others counts, and how many such windows that needs.
const LEAST_PAIR: f64 = 0.5;
const LEAST_PAIRS: usize = 5;

/// A moment that both files hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::compare) struct Anchor {
    /// Frame of the export: where the sound's energy lies in the window, so that a clock that runs
    /// differently does not shift it.
    pub export: f64,
    /// The mix's frame that belongs to it.
    pub mix: f64,
    /// Segment of the timeline that led to it.
    pub segment: usize,
    /// Correlation of the likest pair of channels, or of the export with what the mix predicts.
    pub likeness: f64,
    /// Gain that is left in the prediction (second round only).
    pub gain: f64,
    /// Whether another place nearby fits as well.
    pub ambiguous: bool,
}

/// What a round gives.
pub(in crate::compare) struct Round {
    pub anchors: Vec<Anchor>,
    /// Covariances of the channels at the anchors.
    pub covariance: Covariance,
    /// By how many frames of the mix each export channel is later than the anchors say (first round),
    /// or than it was taken to be (second round).
    pub late: Vec<f64>,
}

/// What the anchors are measured with, and how.
pub(in crate::compare) struct Plan {
    /// Window, in frames of the export.
    pub frames: usize,
    /// Distance of two windows, in frames of the export.
    pub apart: usize,
    /// How far the place may be off, in frames of the export.
    pub search: usize,
    rates_hz: [f64; 2],
    weight: Weight,
}

impl Plan {
    /// For files at `rates_hz` (mix, export) whose shorter one, in frames of the export, has
    /// `frames`, and whose mean spectra are `spectra`. `search_s` is how far the places may be off.
    pub fn new(
        rates_hz: [f64; 2],
        frames: i64,
        search_s: f64,
        spectra: [&MeanSpectrum; 2],
    ) -> Self {
        let rate_hz = rates_hz[1];
        let duration_s = frames as f64 / rate_hz;
        let wished = ((WINDOW_S * rate_hz) as usize).next_power_of_two();
        // Two windows at least, so that there is a line to draw.
        let longest = prev_power_of_two((frames / 2).max(256) as usize);
        let apart_s = (duration_s / ANCHORS).clamp(APART_S.0, APART_S.1);
        let frames = wished.min(longest);
        let apart = ((apart_s * rate_hz) as usize).min(frames.max(1));
        let apart =
            if frames < wished { frames / 2 } else { apart.max((apart_s * rate_hz) as usize) };
        let highest_hz = HIGH_SHARE * rates_hz[0].min(rates_hz[1]) / 2.0;
        let weight = Weight::new(spectra, (LOW_HZ, highest_hz));
        Self { frames, apart, search: (search_s * rate_hz).ceil() as usize, rates_hz, weight }
    }

    /// Sample rates of mix and export, in Hz.
    pub fn rates_hz(&self) -> [f64; 2] {
        self.rates_hz
    }

    /// Windows along a timeline: of each the segment and its first frame; some at a time.
    fn parts(&self, timeline: &Timeline) -> Vec<Vec<(usize, i64)>> {
        let mut windows = Vec::new();
        for (index, segment) in timeline.segments.iter().enumerate() {
            let last = segment.end - self.frames as i64;
            let starts = (segment.start..=last).step_by(self.apart.max(1));
            windows.extend(starts.map(|start| (index, start)));
        }
        windows.chunks(PART_WINDOWS).map(<[_]>::to_vec).collect()
    }

    /// Bins of a window's spectrum in the band that is compared.
    fn bins(&self) -> Range<usize> {
        let bin = |hz: f64| (hz * self.frames as f64 / self.rates_hz[1]).ceil() as usize;
        let high_hz = HIGH_SHARE * self.rates_hz[0].min(self.rates_hz[1]) / 2.0;
        bin(LOW_HZ).max(1)..bin(high_hz).min(self.frames / 2)
    }
}

fn prev_power_of_two(n: usize) -> usize {
    if n.is_power_of_two() { n } else { n.next_power_of_two() / 2 }
}

fn quiet(windows: &[Vec<f64>]) -> bool {
    windows.iter().all(|window| {
        let power: f64 = window.iter().map(|x| x * x).sum();
        power < SILENCE_POWER * window.len() as f64
    })
}

/// Finds where the energy of what changes lies in a window.
struct Centre {
    /// What a frame counts: as under the windows of the spectra.
    window: Vec<f64>,
}

impl Centre {
    fn new(frames: usize) -> Self {
        let hann = |n: usize| (std::f64::consts::PI * n as f64 / frames as f64).sin().powi(4);
        Self { window: (0..frames).map(hann).collect() }
    }

    /// In frames from the window's first.
    fn of(&self, windows: &[Vec<f64>]) -> f64 {
        let (mut moment, mut energy) = (0.0, 0.0);
        for window in windows {
            for (n, (pair, hann)) in window.windows(2).zip(&self.window).enumerate() {
                let power = hann * (pair[1] - pair[0]).powi(2);
                moment += power * n as f64;
                energy += power;
            }
        }
        if energy > 0.0 { moment / energy } else { self.window.len() as f64 / 2.0 }
    }
}
