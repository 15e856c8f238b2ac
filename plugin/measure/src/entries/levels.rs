//! What every kind of meter shows of an entry, and by how much that differs from another.

use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};

use crate::detector::{Detector, Shown};
use crate::level::Level;

/// What every kind of meter shows of one signal: dBFS, dBTP or LUFS, in the order of
/// [`Detector::ALL`]. Peaks are the highest; what moves is read where it settles.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ShownLevels(pub Shown);

impl ShownLevels {
    /// Of one kind.
    #[must_use]
    pub fn of(&self, detector: Detector) -> Level {
        let index = Detector::ALL.iter().position(|&other| other == detector);
        index.map_or_else(Default::default, |index| self.0[index])
    }
}

impl Serialize for ShownLevels {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(Detector::ALL.len()))?;
        for (detector, level) in Detector::ALL.into_iter().zip(self.0) {
            map.serialize_entry(detector.name(), &level)?;
        }
        map.end()
    }
}

/// Of one band.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct BandLevels {
    /// Of A + B at unity gain; no readings in mono.
    pub sum: ShownLevels,
    /// Of the bus: peaks and needles of whichever channel has the highest, the rest of all together.
    pub bus: ShownLevels,
}

/// In both bands: levels, or differences of levels in dB.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct EntryLevels {
    /// As stored.
    pub whole: BandLevels,
    /// Between the edges.
    pub audible: BandLevels,
}
