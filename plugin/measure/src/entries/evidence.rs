//! What changes are told from: energies, amplitude distributions, spectra and scatter of an entry.

mod fine;
mod marks;
mod scatter;

pub(crate) use fine::{Fine, Kept};
pub(crate) use marks::PeakMarks;
pub(crate) use scatter::Scatter;

use crate::energy::PairEnergies;
use crate::level::Level;

/// Whole band, audible band.
pub(crate) const BANDS: usize = 2;

/// Energies of one band, means over frames.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct MeanEnergies {
    /// The halves', all pairs together.
    pub(crate) halves: PairEnergies,
    /// Of the bus, all channels together.
    pub(crate) bus: f64,
}

/// Kurtosis of a signal's samples, mean not removed, and the standard deviation of that number.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Kurtosis {
    pub(crate) value: f64,
    pub(crate) deviation: f64,
}

/// See the module.
#[derive(Debug, Clone)]
pub(crate) struct Evidence {
    /// How long it was measured, in seconds.
    pub(crate) measured_s: f64,
    pub(crate) rate_hz: f64,
    pub(crate) has_b: bool,
    pub(crate) channels: usize,
    /// Whole band, audible band.
    pub(crate) energies: [MeanEnergies; BANDS],
    /// Of the first pair's a, b and a + b, whole band, then audible band.
    pub(crate) kurtosis: [[Kurtosis; 3]; BANDS],
    pub(crate) scatter: Scatter,
    pub(crate) peaks: PeakMarks,
    pub(crate) fine: Fine,
    /// Energies above and below the audible band and of DC, as levels in dBFS.
    pub(crate) hidden: [Level; 3],
}

impl Evidence {
    /// The standard deviation of the mean level of each half in the audible band, in dB: what the rows show
    /// of it, and what wanders in their lowest band, as far as that is audible.
    pub(crate) fn halves_deviation_db(&self) -> [f64; 2] {
        let lowest_share = self.fine.lowest_share();
        [0, 1].map(|half| {
            let lowest = self.scatter.lowest_deviation_db(half);
            self.scatter.deviation_db(half, true).hypot(lowest_share * lowest)
        })
    }
}
