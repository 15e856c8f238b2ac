//! The result of a sum test as two files: the record that the audit of a recording prints, and the
//! report that shows it.

use std::fs::OpenOptions;
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

use ledgerline_measure::sum_test::audit::live::LiveError;
use ledgerline_measure::sum_test::{Audit, identify_played};

use super::entries::Entries;
use crate::destination::{Destination, LOG_VARIABLE};

/// How many names are tried where others are taken, as by a test saved in the same second.
const MOST_TRIES: u32 = 100;

/// What was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Saved {
    /// The record, JSON.
    pub record: PathBuf,
    /// The report, HTML.
    pub report: PathBuf,
}

/// Why nothing was saved. Each says where, and what the operating system said.
#[derive(Debug)]
pub enum SaveError {
    /// The system names no folder for an application's data.
    NoFolder,
    /// A file cannot be made or written.
    Write(PathBuf, std::io::Error),
    /// The test could not be judged.
    NoAudit(LiveError),
    /// There is no thread to write on.
    NoThread(std::io::Error),
    /// The plugin itself failed.
    Broken,
}

impl std::fmt::Display for SaveError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NoFolder => write!(
                f,
                "Nothing is saved: the system names no folder for it. Name one in {LOG_VARIABLE}."
            ),
            Self::Write(path, error) => write!(
                f,
                "Nothing is saved: {} cannot be written ({error}). Make its folder writable, or \
                 name another in {LOG_VARIABLE}.",
                path.display()
            ),
            Self::NoAudit(error) => write!(f, "Nothing is saved: there is no audit. {error}"),
            Self::NoThread(error) => {
                write!(f, "Nothing is saved: the system gives no thread to write on ({error}).")
            }
            Self::Broken => write!(f, "Nothing is saved: an error in Ledgerline itself."),
        }
    }
}

impl std::error::Error for SaveError {}

/// The audit with the meter that the entries tell of, if they tell of one.
#[must_use]
pub fn with_meter(audit: &Audit, entries: &Entries) -> Audit {
    let rate_hz = audit.recording.sample_rate_hz;
    // Too few readings are no error here: the record then has no meter.
    let readings = entries.readings();
    let meter = identify_played(rate_hz, entries.played, &readings, entries.resolution_db).ok();
    Audit { meter, ..audit.clone() }
}

/// Writes the record and the report of an audit. Waits for the disk.
///
/// # Errors
///
/// When either cannot be written; then neither is left behind.
pub fn save(destination: &Destination, audit: &Audit) -> Result<Saved, SaveError> {
    let folder = destination.folder().ok_or(SaveError::NoFolder)?;
    let stem = format!("{}-sum-test", destination.stem());
    let mut tried = 1;
    loop {
        let name = if tried == 1 { stem.clone() } else { format!("{stem}-{tried}") };
        let record = folder.join(format!("{name}.json"));
        let report = folder.join(format!("{name}.html"));
        match write_both(&folder, [&record, &report], audit) {
            Ok(()) => return Ok(Saved { record, report }),
            Err((_, error)) if error.kind() == ErrorKind::AlreadyExists && tried < MOST_TRIES => {
                tried += 1;
            }
            Err((path, error)) => return Err(SaveError::Write(path, error)),
        }
    }
}

fn write_both(
    folder: &Path,
    [record, report]: [&PathBuf; 2],
    audit: &Audit,
) -> Result<(), (PathBuf, std::io::Error)> {
    let failed = |path: &Path| {
        let path = path.to_owned();
        move |error| (path, error)
    };
    std::fs::create_dir_all(folder).map_err(failed(folder))?;
    let mut text =
        serde_json::to_string_pretty(audit).map_err(|error| failed(record)(error.into()))?;
    text.push('\n');
    write_new(record, &text).map_err(failed(record))?;
    let made = ledgerline_report::Made::now(None, None);
    let page = ledgerline_report::audit::page(std::slice::from_ref(audit), &made);
    write_new(report, &page).map_err(|error| {
        // The record alone would look like all of it.
        let _ = std::fs::remove_file(record);
        (report.clone(), error)
    })
}

/// Writes a file that is not there yet, whole or not at all.
fn write_new(path: &Path, text: &str) -> std::io::Result<()> {
    let mut file = OpenOptions::new().write(true).create_new(true).open(path)?;
    let written = file.write_all(text.as_bytes()).and_then(|()| file.flush());
    if written.is_err() {
        let _ = std::fs::remove_file(path);
    }
    written
}
