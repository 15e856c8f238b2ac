//! The log: one file an instance, one reading a line (JSON Lines), written away from the audio
//! thread. It is written while the Log switch is on, or always where the environment variable
//! `LEDGERLINE_LOG` names a folder.

mod destination;
mod folder;
mod name;

use std::fs::{File, OpenOptions};
use std::io::{BufWriter, ErrorKind, Write};
use std::path::{Path, PathBuf};

use serde::Serialize;

pub use destination::Destination;
pub use folder::{LOG_VARIABLE, forced_folder};

/// Why the log is not written. Each says where, and what the operating system said.
#[derive(Debug)]
pub enum LogError {
    /// The system names no folder for an application's data.
    NoFolder,
    /// The file cannot be made.
    Open(PathBuf, std::io::Error),
    /// The file cannot be written any further.
    Write(PathBuf, std::io::Error),
}

impl std::fmt::Display for LogError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NoFolder => write!(
                f,
                "No log is written: the system names no folder for it. Name one in {LOG_VARIABLE}."
            ),
            Self::Open(path, error) => {
                write!(f, "No log is written: {} cannot be made ({error}).", path.display())
            }
            Self::Write(path, error) => {
                write!(f, "The log ends early: {} cannot be written ({error}).", path.display())
            }
        }
    }
}

impl std::error::Error for LogError {}

/// The log of one instance.
pub struct Log {
    destination: Destination,
    state: State,
}

enum State {
    /// Nothing written yet.
    Closed,
    /// Being written.
    Open { path: PathBuf, file: BufWriter<File> },
    /// Given up until asked to try again.
    Failed,
}

impl Log {
    /// A log that goes to `forced`, or where the platform keeps an application's data. No file is
    /// made yet.
    #[must_use]
    pub fn new(forced: Option<PathBuf>) -> Self {
        Self { destination: Destination::new(forced), state: State::Closed }
    }

    /// Where this instance's files go.
    #[must_use]
    pub fn destination(&self) -> &Destination {
        &self.destination
    }

    /// Whether the environment turns the log on, whatever the Log switch says.
    #[must_use]
    pub fn is_forced(&self) -> bool {
        self.destination.is_forced()
    }

    /// Makes the file if there is none, so that an unwritable folder shows at once. After a
    /// failure nothing is tried until [`try_again`](Self::try_again).
    ///
    /// # Errors
    ///
    /// When the file cannot be made, once.
    pub fn open(&mut self) -> Result<(), LogError> {
        if matches!(self.state, State::Closed) {
            self.state = State::Failed;
            let folder = self.destination.folder().ok_or(LogError::NoFolder)?;
            self.state = create(&folder, self.destination.instance())?;
        }
        Ok(())
    }

    /// Writes a line.
    ///
    /// # Errors
    ///
    /// When it cannot be written, once.
    pub fn write(&mut self, line: &impl Serialize) -> Result<(), LogError> {
        self.open()?;
        self.attempt(|file| {
            serde_json::to_writer(&mut *file, line)?;
            file.write_all(b"\n")
        })
    }

    /// Hands everything written to the operating system.
    ///
    /// # Errors
    ///
    /// When that fails, once.
    pub fn flush(&mut self) -> Result<(), LogError> {
        self.attempt(BufWriter::flush)
    }

    /// Lets a log that failed be opened again.
    pub fn try_again(&mut self) {
        if matches!(self.state, State::Failed) {
            self.state = State::Closed;
        }
    }

    fn attempt(
        &mut self,
        write: impl FnOnce(&mut BufWriter<File>) -> std::io::Result<()>,
    ) -> Result<(), LogError> {
        let State::Open { path, file } = &mut self.state else {
            return Ok(());
        };
        let Err(error) = write(file) else {
            return Ok(());
        };
        let path = path.clone();
        self.state = State::Failed;
        Err(LogError::Write(path, error))
    }
}

/// How many numbers are tried for an instance whose own is taken.
const MOST_TRIES: u32 = 1000;

/// A new file in `folder`, which is made where it is missing. Where the name is taken, as by the
/// plugin's other format in the same process, the instance gets the next number that is free.
fn create(folder: &Path, instance: u32) -> Result<State, LogError> {
    let open = |path: &Path| {
        std::fs::create_dir_all(folder)?;
        OpenOptions::new().write(true).create_new(true).open(path)
    };
    let mut tried = 0;
    loop {
        let path = folder.join(format!("{}.jsonl", name::now(instance + tried)));
        match open(&path) {
            Ok(file) => return Ok(State::Open { path, file: BufWriter::new(file) }),
            Err(error) if error.kind() == ErrorKind::AlreadyExists && tried < MOST_TRIES => {
                tried += 1;
            }
            Err(error) => return Err(LogError::Open(path, error)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::handover::Snapshot;

    #[test]
    fn a_folder_that_cannot_be_made_is_said_once_and_can_be_tried_again() {
        let file =
            std::env::temp_dir().join(format!("ledgerline-no-folder-{}", std::process::id()));
        std::fs::write(&file, "a file, where a folder is wanted").unwrap();
        let mut log = Log::new(Some(file.join("log")));
        assert!(matches!(log.open(), Err(LogError::Open(..))));
        assert!(log.write(&Snapshot::default().reading).is_ok(), "said twice");

        std::fs::remove_file(&file).unwrap();
        log.try_again();
        log.write(&Snapshot::default().reading).unwrap();
        log.flush().unwrap();
        let made: Vec<_> = std::fs::read_dir(file.join("log")).unwrap().collect();
        assert_eq!(made.len(), 1);
        let text = std::fs::read_to_string(made[0].as_ref().unwrap().path()).unwrap();
        assert!(text.starts_with("{\"schema\":\"ledgerline.reading/1\"") && text.ends_with("}\n"));
        std::fs::remove_dir_all(&file).unwrap();
    }
}
