//! The spectrum of the bus: what is drawn, and the strongest tones outside the audible band.
//!
//! Two transforms share the work: one of the signal as it is, and one of the signal taken down to
//! about 750 Hz, which tells 12 Hz from 15 Hz. The window is Blackman–Harris with four terms (side
//! lobes 92 dB down; F. J. Harris, "On the use of windows for harmonic analysis with the discrete
//! Fourier transform", Proc. IEEE 66, 1978).

mod analyser;
mod decimator;
mod tones;

pub(crate) use analyser::Analyser;
pub(crate) use decimator::Decimator;
pub(crate) use tones::strongest_tones;

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

    /// Fills the points from the two transforms: each point shows the strongest bin nearer to it
    /// than to its neighbours.
    pub(crate) fn fill(&mut self, low: &Analyser, full: &Analyser) {
        let half_step = (self.high_hz / self.low_hz).powf(0.5 / (SPECTRUM_POINTS - 1) as f32);
        for index in 0..SPECTRUM_POINTS {
            let hz = self.hz(index);
            let source = if f64::from(hz) < SPLICE_HZ { low } else { full };
            let range = source.bins_between(f64::from(hz / half_step), f64::from(hz * half_step));
            let power = |of: fn(&Analyser, usize) -> f64| {
                range.clone().map(|bin| of(source, bin)).fold(0.0, f64::max)
            };
            self.now_dbfs[index] = dbfs(power(Analyser::latest));
            self.mean_dbfs[index] = dbfs(power(Analyser::mean));
        }
    }
}

fn dbfs(power: f64) -> f32 {
    (10.0 * power.log10()) as f32
}
