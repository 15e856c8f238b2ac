//! What can be wrong with a file, said with its name and with what to do.

use ledgerline_measure::words;

use std::fmt;

use super::TrackInfo;

/// A file that cannot be read, or not any further.
#[derive(Debug)]
pub struct AudioError {
    name: String,
    fault: Fault,
    help: Option<Help>,
}

/// What another decoder could do about it.
#[derive(Debug)]
pub(super) enum Help {
    /// It was not to be asked.
    Forbidden,
    /// There is none.
    Missing,
    /// It cannot be handed a pipe.
    Pipe,
    /// It cannot do it either, and why.
    Failed(String),
}

/// What is wrong with a file.
#[derive(Debug)]
#[non_exhaustive]
pub enum Fault {
    /// The system does not let it be opened or read.
    Unreadable(std::io::Error),
    /// It is a folder.
    Folder,
    /// It holds not a single byte.
    Empty,
    /// Nothing in it looks like sound.
    NotAudio,
    /// A kind of file that is known by its first bytes, but that this program does not read.
    UnknownContainer {
        /// What it is.
        what: &'static str,
        /// Such a file holds sound.
        holds_sound: bool,
    },
    /// The header contradicts itself or breaks off.
    BadHeader(String),
    /// A container without a single audio track.
    NoAudioTrack(String),
    /// A track was asked for that is not there, or is not audio.
    NoSuchTrack {
        /// The number asked for.
        asked: u32,
        /// The audio tracks that are there.
        tracks: Vec<TrackInfo>,
    },
    /// The sound is coded in a way that this program does not decode.
    UnknownCodec {
        /// The codec's name, as far as it is known.
        codec: String,
        /// The audio tracks that are there.
        tracks: Vec<TrackInfo>,
    },
    /// It is HE-AAC that says so nowhere but in its packets, of which only half would be decoded.
    OnlyHalfDecoded,
    /// The header states no channels.
    NoChannels,
    /// More channels than are measured at once.
    TooManyChannels {
        /// Channels of the file.
        count: usize,
        /// The most that can be.
        most: usize,
    },
    /// The header states a sample rate of 0, or none.
    NoRate,
    /// Rate or channel count change on the way.
    Changes {
        /// Where, in seconds.
        at_s: f64,
        /// What it is up to there and from there, as "48000 Hz, 2 channels".
        from: String,
        /// See `from`.
        to: String,
    },
    /// Not one packet of the track could be decoded.
    NothingDecoded(String),
    /// Standard input was asked to be read a second time.
    NoRewind,
    /// Standard input holds more than is kept of a container that cannot be read in one pass.
    TooMuchInput {
        /// The limit, in bytes.
        limit_bytes: u64,
    },
}

impl AudioError {
    pub(super) fn new(name: impl Into<String>, fault: Fault) -> Self {
        Self { name: name.into(), fault, help: None }
    }

    pub(super) fn with_help(name: String, fault: Fault, help: Help) -> Self {
        Self { name, fault, help: Some(help) }
    }

    /// What is wrong.
    pub fn fault(&self) -> &Fault {
        &self.fault
    }
}

impl fmt::Display for AudioError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sentence = self.fault.to_string();
        // A list of tracks takes lines of its own.
        let parted = if sentence.contains('\n') { "\n" } else { " " };
        match &self.help {
            Some(help) => write!(f, "{} {sentence}{parted}{help}", self.name),
            None => write!(f, "{} {sentence}", self.name),
        }
    }
}

/// Without a source: the cause stands in the sentence.
impl std::error::Error for AudioError {}

impl fmt::Display for Help {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Forbidden => f.write_str(
                "Without --own-decoders-only the machine's own ffmpeg is asked for such a file.",
            ),
            Self::Missing => f.write_str(
                "Or install ffmpeg, which is asked for such files where it is on the search path.",
            ),
            Self::Pipe => {
                f.write_str("Or save it and name the file: then the machine's own ffmpeg is asked.")
            }
            Self::Failed(why) => {
                write!(f, "The machine's own ffmpeg cannot read it either: {why}.")
            }
        }
    }
}

impl Fault {
    /// Another decoder may know what this one does not.
    pub(super) fn is_not_decoded_here(&self) -> bool {
        match self {
            Self::UnknownContainer { holds_sound, .. } => *holds_sound,
            Self::UnknownCodec { .. } | Self::OnlyHalfDecoded | Self::NoAudioTrack(_) => true,
            _ => false,
        }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unreadable(cause) => {
                write!(
                    f,
                    "cannot be read: {cause}. Check that it is there and that you may read it."
                )
            }
            Self::Folder => f.write_str("is a folder. Name the files in it."),
            Self::Empty => f.write_str("is empty. Export it again."),
            Self::NotAudio => f.write_str(
                "holds no sound that can be recognised. Name an audio or video file, for instance \
                 WAV, FLAC or MP4.",
            ),
            Self::UnknownContainer { what, .. } => {
                write!(f, "is {what}, which is not read here. Convert it to WAV or FLAC first.")
            }
            Self::BadHeader(what) => {
                write!(f, "has a damaged header: {what}. Export or copy the file again.")
            }
            Self::NoAudioTrack(format) => {
                write!(
                    f,
                    "is a file of format {format} without an audio track. Export it with sound."
                )
            }
            Self::NoSuchTrack { asked, tracks } => {
                write!(f, "has no audio track {asked}. Choose one of:")?;
                list(f, tracks)
            }
            Self::UnknownCodec { codec, tracks } => {
                write!(
                    f,
                    "holds sound coded as {codec}, which is not decoded here. Convert the track to \
                     WAV or FLAC first"
                )?;
                if tracks.len() > 1 {
                    f.write_str(", or choose another track:")?;
                    list(f, tracks)
                } else {
                    f.write_str(".")
                }
            }
            Self::OnlyHalfDecoded => f.write_str(
                "holds HE-AAC, by its packets: only the lower half of its band could be decoded \
                 here. Convert the track to WAV or FLAC first.",
            ),
            Self::NoChannels => {
                f.write_str("has a damaged header: it states no channels. Export it again.")
            }
            Self::TooManyChannels { count, most } => write!(
                f,
                "has {count} channels, and at most {most} are read. Split it into files of fewer."
            ),
            Self::NoRate => {
                f.write_str("has a damaged header: it states no sample rate. Export it again.")
            }
            Self::Changes { at_s, from, to } => write!(
                f,
                "changes from {from} to {to} after {}. Split it there and read the parts.",
                words::precise_duration(*at_s)
            ),
            Self::NothingDecoded(why) => {
                write!(
                    f,
                    "is damaged: none of its sound can be decoded ({why}). Copy or export it again."
                )
            }
            Self::NoRewind => f.write_str(
                "can be read only once, and this needs two passes. Name a file instead.",
            ),
            Self::TooMuchInput { limit_bytes } => write!(
                f,
                "holds more than {} GiB of a format that cannot be read in one pass. Save it and name \
                 the file.",
                limit_bytes >> 30
            ),
        }
    }
}

fn list(f: &mut fmt::Formatter<'_>, tracks: &[TrackInfo]) -> fmt::Result {
    for track in tracks {
        write!(f, "\n  {track}")?;
    }
    Ok(())
}
