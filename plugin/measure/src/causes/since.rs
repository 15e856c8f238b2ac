//! Since when a cause costs room.

use super::{MOST_CAUSES, Peaks};

/// A price that counts, in dB, either way.
const PRICE_DB: f64 = 1.0;
/// How long a price has to stay before it counts, in seconds: the detectors look ahead by different
/// stretches, and a rise reaches one before the other.
const STAYS_S: f64 = 0.1;

/// When each cause came to cost a decibel, as long as it does.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Onsets {
    begun_s: [Option<f64>; MOST_CAUSES],
    latest_s: f64,
}

impl Onsets {
    /// Takes the peaks held at a moment since reset.
    pub(crate) fn take(&mut self, time_s: f64, peaks: &Peaks) {
        self.latest_s = time_s;
        for (begun_s, ratio) in self.begun_s.iter_mut().zip(peaks.ratios()) {
            *begun_s = ratio.filter(|ratio| costs(*ratio)).map(|_| begun_s.unwrap_or(time_s));
        }
    }

    /// In seconds since reset, by cause; none where it costs less.
    pub(crate) fn since_s(&self) -> [Option<f64>; MOST_CAUSES] {
        self.begun_s.map(|begun_s| begun_s.filter(|begun_s| self.latest_s >= begun_s + STAYS_S))
    }
}

/// Whether a ratio of peaks is a decibel or more.
fn costs(ratio: f32) -> bool {
    (20.0 * f64::from(ratio).log10()).abs() >= PRICE_DB
}
