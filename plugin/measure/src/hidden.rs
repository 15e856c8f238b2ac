//! Hidden content: what the whole band holds and the audible band does not.
//!
//! Above: what the filter at the upper edge takes away. Below: what the filter at the lower edge
//! takes away, less DC. DC: the mean of the samples.

use crate::energy::HiddenEnergies;
use crate::level::Level;
use crate::reading::{Hidden, Tones};

/// Energies since reset, channels together, and the sums that DC comes from.
#[derive(Debug, Clone, Default)]
pub(crate) struct HiddenBook {
    above: f64,
    /// DC included.
    below: f64,
    /// Sum of samples, `[pair][half]`.
    sums: Vec<[f64; 2]>,
}

impl HiddenBook {
    pub(crate) fn new(pairs: usize) -> Self {
        Self { above: 0.0, below: 0.0, sums: vec![[0.0; 2]; pairs] }
    }

    pub(crate) fn reset(&mut self) {
        self.above = 0.0;
        self.below = 0.0;
        self.sums.fill([0.0; 2]);
    }

    /// Adds what was summed over a later part of the signal.
    pub(crate) fn append(&mut self, later: &Self) {
        self.above += later.above;
        self.below += later.below;
        for (sums, later) in self.sums.iter_mut().flatten().zip(later.sums.iter().flatten()) {
            *sums += later;
        }
    }

    /// Adds what a stretch of a channel holds.
    pub(crate) fn take(&mut self, pair: usize, half: usize, energies: &HiddenEnergies) {
        self.sums[pair][half] += energies.sum;
        self.above += energies.above;
        self.below += energies.below;
    }

    /// Reads levels and shares; `channels` hold `frames` frames each, and `audible` is the energy
    /// of the audible band over all of them.
    pub(crate) fn read(
        &self,
        audible: f64,
        frames: f64,
        channels: f64,
        rms_offset_db: f64,
        tones: Tones,
    ) -> Hidden {
        let dc: f64 = self.sums.iter().flatten().map(|sum| sum * sum / frames).sum();
        // Filters that still settle can hold a little less than the DC of the whole stretch.
        let below = (self.below - dc).max(0.0);
        let total = audible + self.above + below + dc;
        let level = |energy: f64| Level::from_power(energy / frames / channels).plus(rms_offset_db);
        let share = |energy: f64| (total > 0.0).then(|| energy / total);
        Hidden {
            above_dbfs: level(self.above),
            below_dbfs: level(below),
            dc_dbfs: level(dc),
            above_share: share(self.above),
            below_share: share(below),
            dc_share: share(dc),
            audible_share: share(audible),
            tones,
        }
    }
}
