//! What an entry keeps beside a reading: what every kind of meter shows of it, and a spectrum fine
//! enough for combs.

mod long_spectra;
mod tally;

use super::filters::Left;
use super::layout::Layout;
pub(crate) use long_spectra::{FineSpectrum, LongSpectra};
pub(crate) use tally::Tally;

/// The part of a meter that only entries need.
pub(crate) struct Detail {
    pub(crate) tally: Tally,
    pub(crate) spectra: LongSpectra,
}

impl Detail {
    pub(super) fn new(rate_hz: f64, layout: &Layout) -> Self {
        Self {
            tally: Tally::new(rate_hz, layout.pairs.len(), layout.halves_pairs),
            spectra: LongSpectra::new(rate_hz, layout.pairs.len(), layout.halves_pairs),
        }
    }

    pub(super) fn reset(&mut self) {
        self.tally.reset();
        self.spectra.reset();
    }

    /// What comes does not go on from what came.
    pub(super) fn interrupt(&mut self) {
        self.spectra.interrupt();
    }

    /// Takes the first `count` frames of a batch that has left the filters.
    pub(super) fn take(&mut self, left: &Left, count: usize) {
        self.tally.take(&left.whole, &left.audible, count);
        self.spectra.take(&left.whole, count);
    }
}
