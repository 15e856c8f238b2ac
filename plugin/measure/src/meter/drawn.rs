//! What is drawn of a meter.

use super::Meter;
use crate::spectrum::Spectrum;

impl Meter {
    /// The spectrum at this moment.
    #[must_use]
    pub fn spectrum(&self) -> Spectrum {
        self.measured.spectra.drawn()
    }
}
