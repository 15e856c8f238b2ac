//! Why a recording cannot be judged. Each says what was found and what would do.

use super::schedule::{RATE_RANGE_HZ, STEPS, in_steps};
use crate::words::{fixed, frequency, moment, precise_duration};

/// Why a recording cannot be judged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AuditError {
    /// The test does not exist at this sample rate.
    Rate {
        /// The rate that came, in Hz.
        rate_hz: u32,
    },
    /// Neither mono nor stereo.
    Channels {
        /// How many channels came.
        channels: usize,
    },
    /// Less than a marker's length.
    Empty,
    /// Nothing was recorded.
    Silence,
    /// No marker is in it.
    NotATest,
    /// One end of a test, without enough of its noise.
    OneMarker {
        /// Where it is, in seconds.
        at_s: f64,
    },
    /// Too few steps to tell what the feeds make.
    TooLittle {
        /// Which steps the recording holds, by index.
        held: [bool; STEPS.len()],
    },
    /// More markers than one test has.
    SeveralTests {
        /// How many.
        markers: usize,
    },
    /// The file's label names another rate than the one that it was made at.
    WrongRate {
        /// How much longer than the test the recording is.
        ratio: f64,
        /// The rate that the file claims, in Hz.
        labelled_hz: f64,
        /// The rate that would fit, in Hz.
        played_hz: f64,
    },
    /// The markers stand where no test has them.
    Edited {
        /// From one to the other, in seconds.
        apart_s: f64,
        /// What it should be, in seconds, if the beginning tells.
        expected_s: Option<f64>,
    },
    /// A marker is distorted, so every louder part is too.
    MarkerClips {
        /// Where it is, in seconds.
        at_s: f64,
    },
    /// Markers, but not the noise between them.
    NoFeeds,
}

impl std::fmt::Display for AuditError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match *self {
            Self::Rate { rate_hz } => write!(
                f,
                "a sample rate of {}: the sum test exists from {} to {}; record it at a rate \
                 between them",
                frequency(f64::from(rate_hz)),
                frequency(f64::from(RATE_RANGE_HZ.0)),
                frequency(f64::from(RATE_RANGE_HZ.1))
            ),
            Self::Channels { channels } => write!(
                f,
                "{channels} channels: the recording of the bus has to be mono or stereo"
            ),
            Self::Empty => f.write_str("the recording is shorter than the test's first marker"),
            Self::Silence => f.write_str(
                "the recording is silent: check that the mixer's output reaches the recorder",
            ),
            Self::NotATest => f.write_str(
                "the test's marker is nowhere in the recording: this is something else, the test is \
                 buried in other sound or in reverberation, or both its ends are missing; record at \
                 least one end of it",
            ),
            Self::OneMarker { at_s } => write!(
                f,
                "one end of a test is in the recording, at {}, and too little of its noise to go by: \
                 start the recorder before the feeds and stop it after them",
                moment(at_s, 1)
            ),
            Self::TooLittle { held } => {
                let held: Vec<usize> = (0..STEPS.len()).filter(|step| held[*step]).collect();
                if held.is_empty() {
                    return f.write_str("no whole step of the test is in the recording: record all of it");
                }
                write!(
                    f,
                    "of the test the recording holds {} alone, from which does not follow what \
                     either feed makes: record the whole test",
                    in_steps(&held)
                )
            }
            Self::SeveralTests { markers } => write!(
                f,
                "there are {markers} markers, more than one test has: give one test a file"
            ),
            Self::WrongRate { ratio, labelled_hz, played_hz } => write!(
                f,
                "the recording lasts {} times as long as the test: the file says {}, and {} would \
                 fit; convert the feeds to the mixer's rate, or correct the file's label",
                fixed(ratio, 4),
                frequency(labelled_hz),
                frequency(played_hz.round())
            ),
            Self::Edited { apart_s, expected_s } => write!(
                f,
                "the markers are {} apart{}: something was cut out or put in, or the markers belong \
                 to two tests",
                precise_duration(apart_s),
                expected_s.map_or_else(
                    || ", as in no form of the test".to_owned(),
                    |expected_s| format!(" and should be {}", precise_duration(expected_s))
                )
            ),
            Self::MarkerClips { at_s } => write!(
                f,
                "the marker at {} is clipped, and the noise is louder still: turn the \
                 recording's gain down and record again",
                moment(at_s, 1)
            ),
            Self::NoFeeds => f.write_str(
                "the markers are there, but the noise between them is not the test's: the feeds were \
                 made for another sample rate than the recording's, or a gate or an effect changed \
                 them; make feeds for the mixer's rate, and convert nothing",
            ),
        }
    }
}

impl std::error::Error for AuditError {}
