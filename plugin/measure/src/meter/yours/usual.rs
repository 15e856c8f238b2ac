//! What a meter stands at for half of the time: rows counted in bins of a tenth of a decibel, so that a
//! day takes no more space than a minute.

use crate::level::Level;

const LOWEST_DB: f64 = -120.0;
const HIGHEST_DB: f64 = 30.0;
const BINS_A_DB: f64 = 10.0;
const BINS: usize = ((HIGHEST_DB - LOWEST_DB) * BINS_A_DB) as usize;

/// See the module.
pub(super) struct Usual {
    bins: Vec<u32>,
    rows: u32,
}

impl Usual {
    pub(super) fn new() -> Self {
        Self { bins: vec![0; BINS], rows: 0 }
    }

    pub(super) fn reset(&mut self) {
        if self.rows > 0 {
            self.bins.fill(0);
            self.rows = 0;
        }
    }

    pub(super) fn push(&mut self, shown: Level) {
        let Some(db) = shown.finite() else { return };
        let bin = ((db - LOWEST_DB) * BINS_A_DB).clamp(0.0, BINS as f64 - 1.0) as usize;
        self.bins[bin] += 1;
        self.rows += 1;
    }

    /// To the middle of a bin; none where nothing was counted.
    pub(super) fn median(&self) -> Level {
        let mut above = 0;
        let at = self.bins.iter().rposition(|&count| {
            above += count;
            self.rows > 0 && 2 * u64::from(above) >= u64::from(self.rows)
        });
        at.map_or(Level::NONE, |bin| Level::from_db((bin as f64 + 0.5) / BINS_A_DB + LOWEST_DB))
    }
}
