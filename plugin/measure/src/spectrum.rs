//! The spectrum of the bus: what is drawn, and the strongest tones outside the audible band.
//!
//! Two transforms share the work: one of the signal as it is, and one of the signal taken down to
//! about 1500 Hz, which tells 12 Hz from 15 Hz.

mod analyser;
mod decibels;
mod decimator;
mod late_copy;
pub(crate) mod powers;
mod spectra;
mod stages;
mod tones;
mod window;

use std::ops::{Range, RangeInclusive};

use analyser::Analyser;
use decimator::Decimator;
use late_copy::LateCopySearch;
pub(crate) use spectra::{Pairing, Spectra};
use stages::Stages;
use tones::{Images, Sought, ToneSearch};

/// How many points a drawn spectrum has.
pub const SPECTRUM_POINTS: usize = 256;
/// Frequency of the first point, in Hz.
const LOWEST_HZ: f32 = 2.0;
/// Below this frequency, points come from the transform at the low rate.
const SPLICE_HZ: f64 = 100.0;

/// A spectrum of the bus for drawing. A steady tone reads its RMS level, all channels
/// together (the mean of their mean squares).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spectrum {
    /// Frequency of the first point, in Hz.
    pub low_hz: f32,
    /// Frequency of the last point, in Hz: half the sample rate.
    pub high_hz: f32,
    /// The latest half second or so, in dBFS; −∞ where there is nothing (or nothing yet).
    pub now_dbfs: [f32; SPECTRUM_POINTS],
    /// Mean since reset, in dBFS.
    pub mean_dbfs: [f32; SPECTRUM_POINTS],
}

impl Default for Spectrum {
    fn default() -> Self {
        Self::empty(48_000.0)
    }
}

impl Spectrum {
    /// The spectrum of nothing, at a sample rate.
    #[must_use]
    pub fn empty(rate_hz: f64) -> Self {
        Self {
            low_hz: LOWEST_HZ,
            high_hz: (rate_hz / 2.0) as f32,
            now_dbfs: [f32::NEG_INFINITY; SPECTRUM_POINTS],
            mean_dbfs: [f32::NEG_INFINITY; SPECTRUM_POINTS],
        }
    }

    /// Frequency of point `index`, in Hz.
    #[must_use]
    pub fn hz(&self, index: usize) -> f32 {
        let share = index as f32 / (SPECTRUM_POINTS - 1) as f32;
        self.low_hz * (self.high_hz / self.low_hz).powf(share)
    }

    /// Fills some of the points from the two transforms: each point shows the strongest of its bins.
    pub(crate) fn fill(
        &mut self,
        range: Range<usize>,
        points: &[PointBins],
        low: &Analyser,
        full: &Analyser,
    ) {
        for index in range.clone() {
            let PointBins { of_low, bins } = &points[index];
            let source = if *of_low { low } else { full };
            self.now_dbfs[index] = source.strongest_latest(bins.clone()) as f32;
            self.mean_dbfs[index] = source.strongest_mean(bins.clone()) as f32;
        }
        for powers in [&mut self.now_dbfs, &mut self.mean_dbfs] {
            decibels::put_levels(&mut powers[range.clone()]);
        }
    }
}

/// The bins that a drawn point shows.
pub(crate) struct PointBins {
    /// Whether they are of the transform at the low rate.
    of_low: bool,
    bins: RangeInclusive<usize>,
}

/// The bins of every point: those nearer to it than to its neighbours, or the nearest.
pub(crate) fn point_bins(rate_hz: f64, low: &Analyser, full: &Analyser) -> Vec<PointBins> {
    let drawn = Spectrum::empty(rate_hz);
    let half_way = (drawn.high_hz / drawn.low_hz).powf(0.5 / (SPECTRUM_POINTS - 1) as f32);
    let of_point = |index| {
        let hz = drawn.hz(index);
        let of_low = f64::from(hz) < SPLICE_HZ;
        let source = if of_low { low } else { full };
        let bins = source.bins_between(f64::from(hz / half_way), f64::from(hz * half_way));
        PointBins { of_low, bins }
    };
    (0..SPECTRUM_POINTS).map(of_point).collect()
}
