//! What keeps the log from being written, in sentences for the editor. Each says where, and what
//! the operating system said.

use std::path::PathBuf;

use super::budget::MOST_BYTES_A_DAY;
use crate::destination::LOG_VARIABLE;

/// Why lines are missing.
#[derive(Debug)]
pub enum Trouble {
    /// The system names no folder for an application's data.
    NoFolder,
    /// The file cannot be made. It is tried again from time to time.
    Open(PathBuf, std::io::Error),
    /// The file cannot be written any further. It is tried again from time to time.
    Write(PathBuf, std::io::Error),
    /// The limit of a day is reached.
    Limit(PathBuf),
    /// The log goes on after one of these.
    Gap {
        /// Where it goes on.
        path: PathBuf,
        /// How many lines are missing.
        lines: u64,
    },
}

impl std::fmt::Display for Trouble {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NoFolder => write!(
                f,
                "No log is written: the system names no folder for it. Name one in {LOG_VARIABLE}."
            ),
            Self::Open(path, error) => write!(
                f,
                "No log is written: {} cannot be made ({error}). It is tried again every few \
                 seconds.",
                path.display()
            ),
            Self::Write(path, error) => write!(
                f,
                "The log has stopped: {} cannot be written ({error}). It goes on when that is \
                 possible again.",
                path.display()
            ),
            Self::Limit(path) => write!(
                f,
                "The log pauses: {} has taken the {} MB that one instance writes in 24 hours. \
                 Seconds are left out until those are over.",
                path.display(),
                MOST_BYTES_A_DAY / 1_000_000
            ),
            Self::Gap { path, lines } => write!(
                f,
                "The log goes on in {}, but {lines} {} missing before.",
                path.display(),
                if *lines == 1 { "line is" } else { "lines are" }
            ),
        }
    }
}
