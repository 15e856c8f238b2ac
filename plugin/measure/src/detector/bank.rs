//! All detectors on one signal.

use super::{Detector, Momentary, Needle, ProgrammeType, QuasiPeak, Rms, SamplePeak, TruePeak};
use crate::level::Level;

/// What each detector showed, in the order of [`Detector::ALL`]: dBFS, dBTP or LUFS.
pub type Shown = [Level; Detector::ALL.len()];

/// One detector of every kind, all hearing the same signal.
pub struct Bank {
    sample_peak: SamplePeak,
    true_peak: TruePeak,
    rms: Rms,
    needle: Needle,
    programme_1: QuasiPeak,
    programme_2: QuasiPeak,
    momentary: Momentary,
}

impl Bank {
    /// A bank for a signal at `rate_hz` that may reach up to `highest_hz`.
    #[must_use]
    pub fn new(rate_hz: f64, highest_hz: f64) -> Self {
        Self {
            sample_peak: SamplePeak::new(),
            true_peak: TruePeak::new(rate_hz, highest_hz),
            rms: Rms::new(rate_hz),
            needle: Needle::new(rate_hz),
            programme_1: QuasiPeak::new(rate_hz, ProgrammeType::I),
            programme_2: QuasiPeak::new(rate_hz, ProgrammeType::II),
            momentary: Momentary::new(rate_hz),
        }
    }

    /// Resets every detector.
    pub fn reset(&mut self) {
        self.sample_peak.reset();
        self.true_peak.reset();
        self.rms.reset();
        self.needle.reset();
        self.programme_1.reset();
        self.programme_2.reset();
        self.momentary.reset();
    }

    /// Takes the next samples.
    pub fn take(&mut self, samples: &[f32]) {
        self.sample_peak.take(samples);
        self.true_peak.take(samples);
        self.rms.take(samples);
        self.needle.take(samples);
        QuasiPeak::take_all([&mut self.programme_1, &mut self.programme_2], samples);
        self.momentary.take(samples);
    }

    /// The highest levels shown since reset.
    #[must_use]
    pub fn highest(&self) -> Shown {
        Detector::ALL.map(|detector| match detector {
            Detector::SamplePeak => self.sample_peak.highest(),
            Detector::TruePeak => self.true_peak.highest(),
            Detector::Rms => self.rms.highest(),
            Detector::Needle => self.needle.highest(),
            Detector::Programme1 => self.programme_1.highest(),
            Detector::Programme2 => self.programme_2.highest(),
            Detector::Momentary => self.momentary.highest(),
        })
    }

    /// What is read on a steady sound: the mean of what moves, the highest of what holds.
    #[must_use]
    pub fn settled(&self) -> Shown {
        let mut shown = self.highest();
        for (detector, level) in Detector::ALL.into_iter().zip(&mut shown) {
            match detector {
                Detector::Rms => *level = self.rms.settled(),
                Detector::Needle => *level = self.needle.settled(),
                Detector::Momentary => *level = self.momentary.settled(),
                _ => {}
            }
        }
        shown
    }
}
