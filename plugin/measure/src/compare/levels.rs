//! The readings of a file that a comparison lays side by side.

use serde::Serialize;

use crate::level::Level;
use crate::reading::Reading;

/// Readings of one file, of all channels together; or the differences of two such sets.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct LevelSet {
    /// Integrated loudness, whole band.
    pub integrated_lufs: Level,
    /// Loudness range, whole band.
    pub lra_lu: Level,
    /// Highest short-term loudness, whole band.
    pub short_term_max_lufs: Level,
    /// True peak, whole band.
    pub true_peak_dbtp: Level,
    /// Sample peak, whole band.
    pub sample_peak_dbfs: Level,
    /// RMS, whole band.
    pub rms_dbfs: Level,
    /// Integrated loudness, audible band.
    pub audible_integrated_lufs: Level,
    /// True peak, audible band.
    pub audible_true_peak_dbtp: Level,
    /// Hidden content above the audible band.
    pub above_dbfs: Level,
    /// Hidden content below the audible band.
    pub below_dbfs: Level,
    /// DC.
    pub dc_dbfs: Level,
    /// What clipping at full scale would take off, audible band: silence where nothing lies over it.
    pub damage_dbfs: Level,
}

/// One row of the ledger.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LevelRow {
    /// What is read.
    pub name: &'static str,
    /// Unit of the readings.
    pub unit: &'static str,
    /// Unit of the change.
    pub change_unit: &'static str,
    /// Its value.
    pub value: Level,
}

impl LevelSet {
    /// The readings that a whole file gave.
    #[must_use]
    pub fn of(reading: &Reading) -> Self {
        let (whole, audible) = (&reading.whole.bus, &reading.audible.bus);
        Self {
            integrated_lufs: whole.integrated_lufs,
            lra_lu: whole.lra_lu,
            short_term_max_lufs: reading.windows.whole.bus.short_term_max_lufs,
            true_peak_dbtp: whole.true_peak_dbtp,
            sample_peak_dbfs: whole.sample_peak_dbfs,
            rms_dbfs: whole.rms_dbfs,
            audible_integrated_lufs: audible.integrated_lufs,
            audible_true_peak_dbtp: audible.true_peak_dbtp,
            above_dbfs: reading.hidden.above_dbfs,
            below_dbfs: reading.hidden.below_dbfs,
            dc_dbfs: reading.hidden.dc_dbfs,
            damage_dbfs: reading.damage.audible_dbfs,
        }
    }

    /// These readings less others.
    #[must_use]
    pub fn minus(&self, other: &Self) -> Self {
        let mut change = *self;
        for (value, other) in change.values_mut().into_iter().zip(other.rows()) {
            *value = value.minus(other.value);
        }
        change
    }

    /// The rows of the ledger, in its order.
    #[must_use]
    pub fn rows(&self) -> [LevelRow; 12] {
        let row = |name, unit, change_unit, value| LevelRow { name, unit, change_unit, value };
        [
            row("Integrated loudness", "LUFS", "LU", self.integrated_lufs),
            row("Loudness range", "LU", "LU", self.lra_lu),
            row("Short-term loudness, highest", "LUFS", "LU", self.short_term_max_lufs),
            row("True peak", "dBTP", "dB", self.true_peak_dbtp),
            row("Sample peak", "dBFS", "dB", self.sample_peak_dbfs),
            row("RMS", "dBFS", "dB", self.rms_dbfs),
            row("Integrated loudness, audible", "LUFS", "LU", self.audible_integrated_lufs),
            row("True peak, audible", "dBTP", "dB", self.audible_true_peak_dbtp),
            row("Hidden above", "dBFS", "dB", self.above_dbfs),
            row("Hidden below", "dBFS", "dB", self.below_dbfs),
            row("DC", "dBFS", "dB", self.dc_dbfs),
            row("Damage if clipped at full scale", "dBFS", "dB", self.damage_dbfs),
        ]
    }

    /// The values in the order of [`rows`](Self::rows).
    fn values_mut(&mut self) -> [&mut Level; 12] {
        [
            &mut self.integrated_lufs,
            &mut self.lra_lu,
            &mut self.short_term_max_lufs,
            &mut self.true_peak_dbtp,
            &mut self.sample_peak_dbfs,
            &mut self.rms_dbfs,
            &mut self.audible_integrated_lufs,
            &mut self.audible_true_peak_dbtp,
            &mut self.above_dbfs,
            &mut self.below_dbfs,
            &mut self.dc_dbfs,
            &mut self.damage_dbfs,
        ]
    }
}
