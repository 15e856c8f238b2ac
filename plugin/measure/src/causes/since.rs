//! Since when a cause costs room, and how its price grew.

use super::{GROWTH_DB, MOST_CAUSES, Peaks};

/// How long a price has to stay before it counts, in seconds: the detectors look ahead by different
/// stretches, and a rise reaches one before the other.
const STAYS_S: f64 = 0.1;

/// When a price came to be so many decibels, either way, as long as it is.
type Begun = [Option<f64>; GROWTH_DB.len()];

/// When each cause came to cost what.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Onsets {
    begun_s: [Begun; MOST_CAUSES],
    latest_s: f64,
}

impl Onsets {
    /// Takes the peaks held at a moment since reset.
    pub(crate) fn take(&mut self, time_s: f64, peaks: &Peaks) {
        self.latest_s = time_s;
        for (begun_s, ratio) in self.begun_s.iter_mut().zip(peaks.ratios()) {
            let price_db = ratio.map_or(0.0, |ratio| (20.0 * f64::from(ratio).log10()).abs());
            for (begun_s, least_db) in begun_s.iter_mut().zip(GROWTH_DB) {
                *begun_s = (price_db >= least_db).then(|| begun_s.unwrap_or(time_s));
            }
        }
    }

    /// In seconds since reset, by cause and price; none where it costs less.
    pub(crate) fn since_s(&self) -> [Begun; MOST_CAUSES] {
        let stays = |begun_s: &f64| self.latest_s >= begun_s + STAYS_S;
        self.begun_s.map(|prices| prices.map(|begun_s| begun_s.filter(stays)))
    }
}
