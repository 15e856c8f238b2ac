//! The largest magnitude of the waveform between the samples since reset, by the interpolation that
//! the meter uses.

use pulp::Arch;

use super::sample;
use crate::batch::BATCH_FRAMES;
use crate::level::Level;
use crate::settings::TruePeakFilter;
use crate::true_peak::TruePeaks;

/// Holds the true peak of one signal.
pub struct TruePeak {
    peaks: TruePeaks,
    arch: Arch,
    batch: [f32; BATCH_FRAMES],
    filled: usize,
}

impl TruePeak {
    /// A detector for a signal at `rate_hz` that may reach up to `highest_hz`.
    #[must_use]
    pub fn new(rate_hz: f64, highest_hz: f64) -> Self {
        Self {
            peaks: TruePeaks::new(TruePeakFilter::Interpolated, rate_hz, highest_hz),
            arch: Arch::new(),
            batch: [0.0; BATCH_FRAMES],
            filled: 0,
        }
    }

    /// Forgets what came before.
    pub fn reset(&mut self) {
        self.peaks.reset();
        self.filled = 0;
    }

    /// Takes the next samples. The interpolation looks ahead, so the last hundred samples or so
    /// count only once more have come.
    pub fn take(&mut self, samples: &[f32]) {
        for &value in samples {
            self.batch[self.filled] = sample(value) as f32;
            self.filled += 1;
            if self.filled == BATCH_FRAMES {
                self.filled = 0;
                self.peaks.take(self.arch, &[&self.batch], None);
            }
        }
    }

    /// The true peak in dBTP.
    #[must_use]
    pub fn highest(&self) -> Level {
        Level::from_amplitude(f64::from(self.peaks.held()[0]))
    }
}
