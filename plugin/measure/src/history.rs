//! The course of the bus's levels over time, ten rows a second: what a report draws and a table of
//! values holds.

use serde::Serialize;

use crate::level::Level;

/// Rows a second.
pub const ROWS_A_SECOND: u64 = 10;

/// The bus at one moment.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct HistoryRow {
    /// Where the row's windows end, in seconds since reset.
    pub time_s: f64,
    /// In the whole band.
    pub whole: HistoryLevels,
    /// In the audible band.
    pub audible: HistoryLevels,
    /// The highest that the user's own meter has shown in it, its offset left out.
    pub your_meter_db: Level,
}

/// Levels of the bus at one moment in one band.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct HistoryLevels {
    /// Loudness of the latest 400 ms.
    pub momentary_lufs: Level,
    /// Loudness of the latest 3 s.
    pub short_term_lufs: Level,
    /// Largest magnitude of a sample in the latest 100 ms.
    pub sample_peak_dbfs: Level,
    /// True peak of the latest 100 ms, from one batch of 128 frames to another: the highest of all
    /// rows, and of what has made no row yet, is the true peak since reset.
    pub true_peak_dbtp: Level,
    /// RMS of the latest 100 ms, referred to a full-scale square wave.
    pub rms_dbfs: Level,
}
