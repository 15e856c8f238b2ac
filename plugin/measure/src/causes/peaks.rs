//! The peaks that prices are worked out from.

use super::MOST_CAUSES;
use crate::level::Level;

/// The highest peaks of the bus, linear, in the order of the account: largest sample, true peak, true
/// peak after the low-pass, true peak of the audible band.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Peaks(pub(crate) [f32; MOST_CAUSES + 1]);

impl Peaks {
    /// The higher of both, peak by peak.
    pub(crate) fn or(self, other: Self) -> Self {
        Self(std::array::from_fn(|i| self.0[i].max(other.0[i])))
    }

    /// The same as levels.
    pub(crate) fn levels(&self) -> [Level; MOST_CAUSES + 1] {
        self.0.map(|peak| Level::from_amplitude(f64::from(peak)))
    }

    /// Each peak over the next: the prices, linear; none in silence.
    pub(super) fn ratios(&self) -> [Option<f32>; MOST_CAUSES] {
        std::array::from_fn(|i| {
            let (peak, next) = (self.0[i], self.0[i + 1]);
            (peak > 0.0 && next > 0.0).then(|| peak / next)
        })
    }
}
