//! A whole recording in memory, for the audit.

use std::path::Path;

use anyhow::Result;

use crate::audio::{AudioFile, Choice, Input};

/// Samples of a file, a vector a channel, 1.0 being full scale.
pub(super) struct Recording {
    pub rate_hz: u32,
    pub channels: Vec<Vec<f32>>,
}

impl Recording {
    /// Reads a whole file; what is odd about it goes to standard error.
    pub(super) fn read(path: &Path, choice: Choice) -> Result<Self> {
        let mut file = AudioFile::open(&Input::from_argument(path), choice)?;
        let mut channels = vec![Vec::new(); file.info().channels];
        let mut block = Vec::new();
        while file.read_f32(&mut block)? {
            for (all, next) in channels.iter_mut().zip(&block) {
                all.extend_from_slice(next);
            }
        }
        for warning in file.warnings() {
            crate::warn(&format!("{}: {warning}", path.display()));
        }
        Ok(Self { rate_hz: file.info().sample_rate_hz, channels })
    }
}
