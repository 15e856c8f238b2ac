//! What a file says about itself.

use std::fmt;

use ledgerline_measure::{ChannelRole, words};
use serde::Serialize;

/// What a file is, as far as its header tells.
#[derive(Debug, Clone, PartialEq)]
pub struct FileInfo {
    /// The file's path as given, or "standard input".
    pub path: String,
    /// The container, in a short word: "WAV", "RF64", "MP4".
    pub format: String,
    /// How the sound is coded: "PCM, 24 bit", "AAC-LC".
    pub codec: String,
    /// Frames a second.
    pub sample_rate_hz: u32,
    /// Samples a frame.
    pub channels: usize,
    /// What each channel is for, in the order of the samples.
    pub roles: Vec<ChannelRole>,
    /// Word length, where the samples are stored as words: linear or lossless.
    pub bits: Option<u32>,
    /// The words are floating point.
    pub float: bool,
    /// The codec does not keep the samples that it was given.
    pub lossy: bool,
    /// Frames that the header promises, delay and padding left out; none where it does not say.
    pub frames: Option<u64>,
    /// Length in seconds by the header; an estimate where `frames` is none.
    pub duration_s: Option<f64>,
    /// The number of the track that is read.
    pub track: u32,
    /// What decodes it: "built in", or the name and version of the program that is asked.
    pub decoder: String,
    /// Every audio track.
    pub tracks: Vec<TrackInfo>,
}

/// What is said of a file that is decoded here.
pub const BUILT_IN: &str = "built in";

impl FileInfo {
    /// Bits of the samples' words, where they are integers and kept as they were.
    pub fn word_bits(&self) -> Option<u32> {
        self.bits.filter(|_| !self.float && !self.lossy)
    }
}

/// One audio track of a file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct TrackInfo {
    /// The number to choose it by.
    pub number: u32,
    /// How it is coded.
    pub codec: String,
    /// Samples a frame; 0 where only decoding would tell.
    pub channels: usize,
    /// Frames a second; 0 where only decoding would tell.
    pub sample_rate_hz: u32,
    /// Its language, where the file states one.
    pub language: Option<String>,
    /// It can be decoded here.
    pub readable: bool,
}

impl fmt::Display for TrackInfo {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "track {}: {}", self.number, self.codec)?;
        match self.channels {
            0 => {}
            1 => f.write_str(", 1 channel")?,
            count => write!(f, ", {count} channels")?,
        }
        if self.sample_rate_hz > 0 {
            write!(f, ", {}", words::frequency(f64::from(self.sample_rate_hz)))?;
        }
        if let Some(language) = &self.language {
            write!(f, ", {language}")?;
        }
        if !self.readable {
            f.write_str(" (not decoded here)")?;
        }
        Ok(())
    }
}
