//! What an argument of `read` turned out to be: sound, or a log of the plugin.

use anyhow::{Result, bail};
use ledgerline_measure::verdict::Severity;
use ledgerline_report::session::InstanceLog;

use super::measurement::{Job, Measurement};
use super::record::{ReadRecord, SettingsRecord};
use super::session::{self, SessionRecord};
use crate::audio::{Content, Input};
use crate::options::ReadOptions;
use crate::progress::Progress;

/// Sound that was measured, or a log that was summed up.
pub(super) enum Told {
    Sound(Box<Measurement>),
    Log(Box<InstanceLog>),
}

impl Told {
    /// Reads an argument. Of sound, the progress is shown where somebody watches it alone.
    ///
    /// # Errors
    ///
    /// When it cannot be read or measured, or is a log and an option asks for what only sound has.
    pub(super) fn read(
        input: &Input,
        options: &ReadOptions,
        job: &Job,
        is_watched: bool,
    ) -> Result<Self> {
        match Content::open(input, options.choice(), session::is_record)? {
            Content::Sound(audio) if is_watched => {
                let progress = Progress::new("reading", audio.info().frames);
                let measurement = job.run(*audio, |frames| progress.add(frames))?;
                Ok(Self::Sound(Box::new(measurement)))
            }
            Content::Sound(audio) => Ok(Self::Sound(Box::new(job.run(*audio, |_| ())?))),
            Content::Other(log) => {
                let path = input.name();
                let asked = [
                    ("--track", options.track.is_some()),
                    ("--mark", !options.mark.is_empty()),
                    ("--channels", !options.channels.is_empty()),
                    ("--history", options.history.is_some()),
                ];
                if let Some((option, _)) = asked.iter().find(|(_, is_asked)| *is_asked) {
                    bail!("{path} is a log: {option} is for sound, leave it out");
                }
                Ok(Self::Log(Box::new(session::read(log, path)?)))
            }
        }
    }

    /// Of the worst finding.
    pub(super) fn severity(&self) -> Severity {
        match self {
            Self::Sound(measurement) => measurement.severity(),
            Self::Log(log) => log.severity(),
        }
    }

    /// The record, in a line.
    ///
    /// # Errors
    ///
    /// None that comes of what was read.
    pub(super) fn record(
        &self,
        settings: SettingsRecord,
        with_entries: bool,
    ) -> serde_json::Result<String> {
        // By way of a text: the library's own writing hides a broken pipe.
        match self {
            Self::Sound(measurement) => {
                serde_json::to_string(&ReadRecord::new(measurement, settings, with_entries))
            }
            Self::Log(log) => serde_json::to_string(&SessionRecord::new(log)),
        }
    }
}

/// Sound and logs apart, each in the order given.
pub(super) fn parted(all: Vec<Told>) -> (Vec<Measurement>, Vec<InstanceLog>) {
    let (mut measured, mut logs) = (Vec::new(), Vec::new());
    for told in all {
        match told {
            Told::Sound(measurement) => measured.push(*measurement),
            Told::Log(log) => logs.push(*log),
        }
    }
    (measured, logs)
}
