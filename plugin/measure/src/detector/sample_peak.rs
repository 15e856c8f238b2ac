//! The largest sample since reset.

use super::sample;
use crate::level::Level;

/// Holds the largest magnitude of the samples as they are stored.
#[derive(Debug, Clone, Default)]
pub struct SamplePeak {
    held: f64,
}

impl SamplePeak {
    /// A detector that has heard nothing.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Forgets what came before.
    pub fn reset(&mut self) {
        self.held = 0.0;
    }

    /// Takes the next samples.
    pub fn take(&mut self, samples: &[f32]) {
        for &value in samples {
            self.held = self.held.max(sample(value).abs());
        }
    }

    /// The largest sample in dBFS.
    #[must_use]
    pub fn highest(&self) -> Level {
        Level::from_amplitude(self.held)
    }
}
