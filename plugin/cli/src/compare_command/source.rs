//! A file as the comparison reads it.

use ledgerline_measure::ChannelRole;
use ledgerline_measure::compare::Source;

use crate::audio::{AudioError, AudioFile, FileInfo};

/// A file that plays as often as it is asked for.
pub(super) struct FileSource {
    audio: AudioFile,
    /// Whether a frame was read since the last rewind: rewinding opens the file anew.
    moved: bool,
    /// Of the latest reading from end to end.
    warnings: Vec<String>,
}

impl FileSource {
    pub(super) fn new(audio: AudioFile) -> Self {
        let warnings = audio.warnings().to_vec();
        Self { audio, moved: false, warnings }
    }

    pub(super) fn info(&self) -> &FileInfo {
        self.audio.info()
    }

    pub(super) fn warnings(&self) -> &[String] {
        &self.warnings
    }
}

impl Source for FileSource {
    type Error = AudioError;

    fn rate_hz(&self) -> u32 {
        self.audio.info().sample_rate_hz
    }

    fn channels(&self) -> usize {
        self.audio.info().channels
    }

    fn bits(&self) -> Option<u32> {
        self.audio.info().word_bits()
    }

    fn roles(&self) -> Vec<ChannelRole> {
        self.audio.info().roles.clone()
    }

    fn rewind(&mut self) -> Result<(), AudioError> {
        if self.moved {
            self.audio.rewind()?;
            self.moved = false;
        }
        Ok(())
    }

    fn read(&mut self, block: &mut Vec<Vec<f64>>) -> Result<bool, AudioError> {
        self.moved = true;
        let goes_on = self.audio.read_f64(block)?;
        if !goes_on {
            self.warnings = self.audio.warnings().to_vec();
        }
        Ok(goes_on)
    }
}
