//! A kind of meter: a detector in a band.

use serde::{Serialize, Serializer};

use crate::detector::Detector;
use crate::sum_test::measured::{BAND_WORDS, BANDS};

/// A detector in a band.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Model {
    /// The kind of detector.
    pub detector: Detector,
    /// 0 whole, 1 audible.
    pub band: usize,
}

impl Model {
    /// The model as it is spoken of, as in `needle, audible band`.
    #[must_use]
    pub fn word(self) -> String {
        format!("{}, {}", self.detector.word(), BAND_WORDS[self.band])
    }

    /// The same where width is short.
    #[must_use]
    pub fn short(self) -> String {
        format!("{}, {}", self.detector.word(), BANDS[self.band])
    }

    /// Every model.
    pub fn all() -> impl Iterator<Item = Self> {
        (0..BANDS.len())
            .flat_map(|band| Detector::ALL.into_iter().map(move |detector| Self { detector, band }))
    }
}

impl std::fmt::Display for Model {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(&format!("{}/{}", self.detector, BANDS[self.band]))
    }
}

impl Serialize for Model {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}
