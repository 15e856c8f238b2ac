//! The record of a file that was read: one line of JSON.

use ledgerline_measure::entries::Entry;
use ledgerline_measure::{Reading, Settings, View};
use ledgerline_report::read::FileFacts;
use serde::Serialize;

use crate::audio::{BUILT_IN, FileInfo};

/// Name and version of the record's shape.
const READ_SCHEMA: &str = "ledgerline.read/1";

/// A file, how it was measured, and what it reads.
#[derive(Debug, Serialize)]
pub(crate) struct ReadRecord<'a> {
    pub(crate) schema: &'static str,
    pub(crate) version: &'static str,
    pub(crate) file: &'a FileRecord,
    pub(crate) warnings: &'a [String],
    pub(crate) settings: SettingsRecord,
    pub(crate) reading: &'a Reading,
    /// Where they were asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) entries: Option<Vec<&'a Entry>>,
}

impl<'a> ReadRecord<'a> {
    pub(crate) fn new(
        measurement: &'a super::Measurement,
        settings: SettingsRecord,
        with_entries: bool,
    ) -> Self {
        Self {
            schema: READ_SCHEMA,
            version: env!("CARGO_PKG_VERSION"),
            file: &measurement.file,
            warnings: &measurement.warnings,
            settings,
            reading: &measurement.reading,
            entries: with_entries.then(|| measurement.entries.iter().collect()),
        }
    }
}

/// What the file is.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct FileRecord {
    pub(crate) path: String,
    pub(crate) format: String,
    pub(crate) codec: String,
    pub(crate) sample_rate_hz: u32,
    pub(crate) channels: usize,
    pub(crate) bits: Option<u32>,
    pub(crate) track: u32,
    pub(crate) decoder: String,
    pub(crate) duration_s: f64,
}

impl FileRecord {
    /// Of a file that turned out to be this long.
    pub(crate) fn new(info: &FileInfo, duration_s: f64) -> Self {
        Self {
            path: info.path.clone(),
            format: info.format.clone(),
            codec: info.codec.clone(),
            sample_rate_hz: info.sample_rate_hz,
            channels: info.channels,
            bits: info.bits,
            track: info.track,
            decoder: info.decoder.clone(),
            duration_s,
        }
    }
}

impl FileRecord {
    /// For reports and tables.
    pub(crate) fn facts<'a>(&'a self, warnings: &'a [String]) -> FileFacts<'a> {
        FileFacts {
            path: &self.path,
            format: &self.format,
            codec: &self.codec,
            decoder: (self.decoder != BUILT_IN).then_some(self.decoder.as_str()),
            sample_rate_hz: self.sample_rate_hz,
            channels: self.channels,
            duration_s: Some(self.duration_s),
            warnings,
        }
    }
}

/// How it was measured: enough to do it again.
#[derive(Debug, Clone, Copy, Serialize)]
pub(crate) struct SettingsRecord {
    #[serde(flatten)]
    pub(crate) settings: Settings,
    #[serde(flatten)]
    pub(crate) view: View,
}
