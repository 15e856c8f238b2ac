//! The log: one file an instance, one JSON object a line (JSON Lines), written away from the audio
//! thread. It is written while the Log switch is on, or always where the environment variable
//! `LEDGERLINE_LOG` names a folder.
//!
//! The first line says what the rows' keys stand for; then comes a row each second, an entry as it
//! ends, a full reading every ten minutes and when processing stops, and a line where a reset is
//! undone. Every line is whole, whatever the disk does.

mod budget;
mod lines;
mod row;
mod trouble;

use std::io::ErrorKind;
use std::path::Path;
use std::time::{Duration, Instant};

use ledgerline_measure::Reading;
use ledgerline_measure::entries::Entry;
use serde::Serialize;

use crate::destination::{Destination, forced_folder, name};
use crate::sum_test::record::SumTestRecord;
use budget::{Budget, Kind};
use lines::LineFile;
use row::{FirstLine, Row, UndoLine};

pub use budget::MOST_BYTES_A_DAY;
pub use trouble::Trouble;

/// A full reading is written after so many rows: ten minutes.
const ROWS_A_READING: u32 = 600;
/// How long what failed is left alone.
const BEFORE_TRYING_AGAIN: Duration = Duration::from_secs(10);
/// How often it is made sure that the file is still there.
const BEFORE_CHECKING_AGAIN: Duration = Duration::from_secs(5);

/// The log of one instance.
pub struct Log {
    destination: Destination,
    file: Option<LineFile>,
    budget: Budget,
    trouble: Option<Trouble>,
    /// Lines that have not been written since the user last wanted it tried again.
    missing: u64,
    failed_at: Option<Instant>,
    checked_at: Option<Instant>,
    /// Rows since the latest full reading.
    rows: u32,
    /// The sum test's table as it was written last, but for the place in the test.
    table: Option<String>,
}

/// A full reading, as it is written.
#[derive(Serialize)]
struct Full<'a> {
    #[serde(flatten)]
    reading: &'a Reading,
    #[serde(skip_serializing_if = "Option::is_none")]
    sum_test: Option<&'a SumTestRecord>,
}

impl Log {
    /// A log that goes where the environment says, or where the platform keeps an application's data.
    #[must_use]
    pub fn of_environment() -> Self {
        Self::new(forced_folder())
    }

    /// A log that goes to `forced`, or where the platform keeps an application's data. No file is
    /// made yet.
    #[must_use]
    pub fn new(forced: Option<std::path::PathBuf>) -> Self {
        Self {
            destination: Destination::new(forced),
            file: None,
            budget: Budget::default(),
            trouble: None,
            missing: 0,
            failed_at: None,
            checked_at: None,
            rows: 0,
            table: None,
        }
    }

    /// Where it goes.
    #[must_use]
    pub fn destination(&self) -> &Destination {
        &self.destination
    }

    /// Whether the environment has turned it on.
    #[must_use]
    pub fn is_forced(&self) -> bool {
        self.destination.is_forced()
    }

    /// Why lines are missing, if any are.
    #[must_use]
    pub fn trouble(&self) -> Option<&Trouble> {
        self.trouble.as_ref()
    }

    /// Makes the file where there is none, with its first line.
    pub fn open(&mut self, now: Instant) {
        let is_due = |at: Option<Instant>, pause| {
            at.is_none_or(|at: Instant| now.saturating_duration_since(at) >= pause)
        };
        if self.file.is_some() && is_due(self.checked_at, BEFORE_CHECKING_AGAIN) {
            self.checked_at = Some(now);
            // What is written to a file that was taken away is lost without an error.
            self.file = self.file.take().filter(LineFile::is_there);
        }
        if self.file.is_none() && is_due(self.failed_at, BEFORE_TRYING_AGAIN) {
            match self.create(now) {
                Ok(file) => {
                    (self.file, self.checked_at) = (Some(file), Some(now));
                    self.table = None;
                    self.it_works();
                }
                Err(trouble) => self.fail(trouble, now),
            }
        }
    }

    /// Writes the row of a second, and a full reading where one is due. Where the transport stands
    /// is `host_s`.
    pub fn second(
        &mut self,
        reading: &Reading,
        host_s: Option<f64>,
        sum_test: Option<&SumTestRecord>,
        now: Instant,
    ) {
        let table = sum_test.map(apart_from_its_place);
        let changed = (table != self.table).then_some(sum_test);
        // No row is older than its file.
        self.open(now);
        let row = Row { reading, utc: &name::utc_now(), host_s, sum_test: changed };
        if self.write(&row, Kind::Row, now) {
            self.table = table;
        }
        self.rows += 1;
        if self.rows >= ROWS_A_READING {
            self.reading(reading, sum_test, now);
        }
    }

    /// Writes a full reading.
    pub fn reading(&mut self, reading: &Reading, sum_test: Option<&SumTestRecord>, now: Instant) {
        self.rows = 0;
        self.write(&Full { reading, sum_test }, Kind::Reading, now);
    }

    /// Writes that a reset was undone: what is read now goes on from before it.
    pub fn undo(&mut self, reading: &Reading, now: Instant) {
        let line = UndoLine { time_s: reading.time_s, utc: &name::utc_now() };
        self.write(&line, Kind::Reading, now);
    }

    /// Writes an entry that has ended.
    pub fn entry(&mut self, entry: &Entry, now: Instant) {
        self.write(entry, Kind::Entry, now);
    }

    /// Forgets what went wrong: the user wants it tried again.
    pub fn try_again(&mut self) {
        (self.trouble, self.failed_at, self.missing) = (None, None, 0);
    }

    /// Writes a line, and says whether that succeeded.
    fn write(&mut self, line: &impl Serialize, kind: Kind, now: Instant) -> bool {
        self.open(now);
        let waits = self
            .failed_at
            .is_some_and(|at| now.saturating_duration_since(at) < BEFORE_TRYING_AGAIN);
        let Some(file) = self.file.as_mut().filter(|_| !waits) else {
            self.missing += 1;
            return false;
        };
        let written = text(line).and_then(|text| {
            if !self.budget.allows(kind, text.len(), now) {
                return Ok(false);
            }
            file.append(&text)?;
            self.budget.spend(text.len());
            Ok(true)
        });
        match written {
            Ok(true) => {
                self.it_works();
                return true;
            }
            Ok(false) => self.trouble = Some(Trouble::Limit(file.path().to_owned())),
            Err(error) => {
                let trouble = Trouble::Write(file.path().to_owned(), error);
                self.fail(trouble, now);
            }
        }
        self.missing += 1;
        false
    }

    fn fail(&mut self, trouble: Trouble, now: Instant) {
        (self.trouble, self.failed_at) = (Some(trouble), Some(now));
    }

    /// After trouble, what is missing stays said.
    fn it_works(&mut self) {
        self.failed_at = None;
        self.trouble = match (&self.file, self.missing) {
            (Some(file), lines @ 1..) => Some(Trouble::Gap { path: file.path().to_owned(), lines }),
            _ => None,
        };
    }

    /// A new file with its first line, in a folder that is made where it is missing. Where the name
    /// is taken, as by the plugin's other format in the same process, the instance gets the next
    /// number that is free.
    fn create(&mut self, now: Instant) -> Result<LineFile, Trouble> {
        let folder = self.destination.folder().ok_or(Trouble::NoFolder)?;
        let mut file = create(&folder, self.destination.instance())?;
        let first = FirstLine { begun_utc: &name::utc_now() };
        let written = text(&first).and_then(|text| {
            // A first line is written whatever the day's limit: without it no row can be read.
            self.budget.allows(Kind::Reading, text.len(), now);
            self.budget.spend(text.len());
            file.append(&text)
        });
        match written {
            Ok(()) => Ok(file),
            Err(error) => {
                // An empty file would be taken for a log.
                let _ = std::fs::remove_file(file.path());
                Err(Trouble::Write(file.path().to_owned(), error))
            }
        }
    }
}

/// How many numbers are tried for an instance whose own is taken.
const MOST_TRIES: u32 = 1000;

fn create(folder: &Path, instance: u32) -> Result<LineFile, Trouble> {
    let mut tried = 0;
    loop {
        let path = folder.join(format!("{}.jsonl", name::now(instance + tried)));
        let made = std::fs::create_dir_all(folder).and_then(|()| LineFile::create(path.clone()));
        match made {
            Ok(file) => return Ok(file),
            Err(error) if error.kind() == ErrorKind::AlreadyExists && tried < MOST_TRIES => {
                tried += 1;
            }
            Err(error) => return Err(Trouble::Open(path, error)),
        }
    }
}

/// A line with its end.
fn text(line: &impl Serialize) -> std::io::Result<Vec<u8>> {
    let mut text = serde_json::to_vec(line)?;
    text.push(b'\n');
    Ok(text)
}

/// The table in words that change when it says something new, and not with each second.
fn apart_from_its_place(record: &SumTestRecord) -> String {
    let still = SumTestRecord { position_s: 0.0, ..record.clone() };
    // Plain data: it always has words.
    serde_json::to_string(&still).unwrap_or_default()
}

#[cfg(test)]
mod tests;
