//! Sound from files of every kind, and from standard input.
//!
//! What a file is, its content decides, not its name. Linear samples of the RIFF family and of MP4
//! are read here; `symphonia` parses the other containers and decodes. Encoder delay and padding are
//! taken out where the file states them. Files are read block by block, and nothing is allocated
//! because a header says so: memory does not grow with what a file is or claims to be.

mod aac;
mod caf;
mod codec;
mod coded;
mod companding;
mod contain;
mod container;
mod damage;
mod error;
mod ffmpeg;
mod info;
mod kind;
mod linear;
mod linear_track;
mod matroska;
mod mp4;
mod next;
mod open;
mod opus;
mod packets;
mod roles;
mod silence;
mod source;
mod wave;
mod window;

pub use error::{AudioError, Fault};
pub use info::{BUILT_IN, FileInfo, TrackInfo};
pub(crate) use kind::is_sound_file;
pub use source::{Choice, Input};

use coded::CodedTrack;
use damage::length_warning;
use error::Help;
use linear::Sample;
use linear_track::LinearTrack;
use source::{Reader, Source};

/// A file that is being read.
///
/// Standard input is read in one pass where the container permits it (WAV and its kin, FLAC, MP3,
/// Ogg, ADTS). MP4, AIFF, CAF and Matroska are read back and forth: from standard input they are
/// first copied to a temporary file, of at most 16 GiB.
pub struct AudioFile {
    input: Input,
    choice: Choice,
    info: FileInfo,
    body: Body,
    /// What the header made one say; what the way through the file adds comes behind it.
    header_warnings: Vec<String>,
    warnings: Vec<String>,
}

/// Where the samples come from.
enum Body {
    Linear(LinearTrack<Reader>),
    LinearMp4(LinearTrack<mp4::Extents>),
    Coded(Box<CodedTrack>),
    Ffmpeg(LinearTrack<Reader>, ffmpeg::Report),
}

impl Body {
    fn read<S: Sample>(&mut self, block: &mut Vec<Vec<S>>) -> Result<bool, Fault> {
        match self {
            Self::Linear(track) => track.read(block),
            Self::LinearMp4(track) => track.read(block),
            Self::Coded(track) => track.read(block),
            Self::Ffmpeg(track, _) => track.read(block),
        }
    }

    fn frames_read(&self) -> u64 {
        match self {
            Self::Linear(track) => track.frames_read(),
            Self::LinearMp4(track) => track.frames_read(),
            Self::Coded(track) => track.frames_read(),
            Self::Ffmpeg(track, _) => track.frames_read(),
        }
    }
}

/// What an input turned out to be.
pub(crate) enum Content {
    /// Sound.
    Sound(Box<AudioFile>),
    /// What was looked for besides, from its first byte on.
    Other(Box<dyn std::io::Read>),
}

impl Content {
    /// Opens an input as [`AudioFile::open`] does, unless `is_other` knows its first bytes.
    ///
    /// # Errors
    ///
    /// See [`AudioFile::open`].
    pub(crate) fn open(
        input: &Input,
        choice: Choice,
        is_other: impl Fn(&[u8]) -> bool,
    ) -> Result<Self, AudioError> {
        let source = Source::open(input).map_err(|fault| AudioError::new(input.name(), fault))?;
        if is_other(source.head()) {
            return Ok(Self::Other(Box::new(source.into_reader())));
        }
        Ok(Self::Sound(Box::new(AudioFile::of_source(source, input, choice)?)))
    }
}

impl AudioFile {
    /// Opens a file and reads its header. What is not decoded here the machine's own `ffmpeg` decodes,
    /// where there is one and `choice` does not forbid it.
    ///
    /// # Errors
    ///
    /// When it cannot be read, is not sound, or holds none that can be decoded.
    pub fn open(input: &Input, choice: impl Into<Choice>) -> Result<Self, AudioError> {
        let source = Source::open(input).map_err(|fault| AudioError::new(input.name(), fault))?;
        Self::of_source(source, input, choice.into())
    }

    fn of_source(source: Source, input: &Input, choice: Choice) -> Result<Self, AudioError> {
        let name = input.name();
        let (info, body, warnings) = match open::open(source, &name, choice.track) {
            Ok(opened) => (opened.info, opened.body, opened.warnings),
            Err(fault) if fault.is_not_decoded_here() => {
                let opened = by_ffmpeg(input, &name, choice);
                let opened = opened.map_err(|help| AudioError::with_help(name, fault, help))?;
                (opened.info, opened.body, Vec::new())
            }
            Err(fault) => return Err(AudioError::new(name, fault)),
        };
        Ok(Self {
            input: input.clone(),
            choice,
            info,
            body,
            warnings: warnings.clone(),
            header_warnings: warnings,
        })
    }

    /// What the header says.
    pub fn info(&self) -> &FileInfo {
        &self.info
    }

    /// The next block: one vector a channel, of any length but 0, 1.0 being full scale. False at
    /// the end. Exact for integers of up to 24 bits and for 32-bit floats.
    ///
    /// # Errors
    ///
    /// When the file cannot be read any further, or changes its rate or channels.
    pub fn read_f32(&mut self, block: &mut Vec<Vec<f32>>) -> Result<bool, AudioError> {
        self.read(block)
    }

    /// The same, exact for 32-bit integers and 64-bit floats as well.
    ///
    /// # Errors
    ///
    /// See [`AudioFile::read_f32`].
    pub fn read_f64(&mut self, block: &mut Vec<Vec<f64>>) -> Result<bool, AudioError> {
        self.read(block)
    }

    fn read<S: Sample>(&mut self, block: &mut Vec<Vec<S>>) -> Result<bool, AudioError> {
        match self.body.read(block) {
            Ok(true) => Ok(true),
            Ok(false) => {
                self.note_end();
                Ok(false)
            }
            Err(fault) => Err(AudioError::new(self.input.name(), fault)),
        }
    }

    /// Goes back to the first frame; the warnings of the way so far are forgotten.
    ///
    /// # Errors
    ///
    /// For standard input, or when the file cannot be opened again.
    pub fn rewind(&mut self) -> Result<(), AudioError> {
        if self.input == Input::StandardInput {
            return Err(AudioError::new(self.input.name(), Fault::NoRewind));
        }
        *self = Self::open(&self.input, self.choice)?;
        Ok(())
    }

    /// How many frames there really are, where they can be skipped and the file opened again for
    /// reading them in parts: linear samples of the RIFF family, in a file.
    pub fn skippable_frames(&self) -> Option<u64> {
        match (&self.body, &self.input) {
            (Body::Linear(track), Input::Path(_)) if track.can_seek() => track.frames_left(),
            _ => None,
        }
    }

    /// Another reader of the same file, from frame `first` on; it warns of the whole file. None where
    /// the file has no [`skippable_frames`](Self::skippable_frames).
    ///
    /// # Errors
    ///
    /// When the file cannot be opened again, or not be read there.
    pub fn open_at(&self, first: u64) -> Result<Option<Self>, AudioError> {
        if self.skippable_frames().is_none() {
            return Ok(None);
        }
        let mut again = Self::open(&self.input, self.choice)?;
        let Body::Linear(track) = &mut again.body else { return Ok(None) };
        track
            .skip(first, Reader::skip)
            .map_err(|fault| AudioError::new(self.input.name(), fault))?;
        Ok(Some(again))
    }

    /// What was wrong, in sentences: complete once the end was reached.
    pub fn warnings(&self) -> &[String] {
        &self.warnings
    }

    fn note_end(&mut self) {
        let (damage, breaks_off, slack) = match &self.body {
            Body::Coded(track) => {
                (track.warnings().collect(), track.breaks_off(), self.slack_frames())
            }
            Body::Ffmpeg(_, report) => (report.warning().into_iter().collect(), false, 0),
            _ => (Vec::new(), false, 0),
        };
        let length = length_warning(
            self.body.frames_read(),
            self.info.frames,
            slack,
            breaks_off,
            self.info.sample_rate_hz,
        );
        self.warnings.clone_from(&self.header_warnings);
        self.warnings.extend(damage);
        self.warnings.extend(length);
    }

    /// Frames that are no difference: less than a packet of any lossy codec, and in CAF, which counts
    /// whole packets, one packet of ALAC.
    fn slack_frames(&self) -> u64 {
        match self.info.format.as_str() {
            "CAF" if !self.info.codec.starts_with("PCM") => 4096,
            _ if self.info.lossy => 500,
            _ => 0,
        }
    }
}

/// What is not decoded here, by another program; or what would help.
fn by_ffmpeg(input: &Input, name: &str, choice: Choice) -> Result<ffmpeg::Opened, Help> {
    if choice.own_decoders_only {
        return Err(Help::Forbidden);
    }
    let Input::Path(path) = input else { return Err(Help::Pipe) };
    ffmpeg::open(path, name, choice).map_err(|refusal| match refusal {
        ffmpeg::Refusal::Missing => Help::Missing,
        ffmpeg::Refusal::Pipe => Help::Pipe,
        ffmpeg::Refusal::Failed(why) => Help::Failed(why),
    })
}
