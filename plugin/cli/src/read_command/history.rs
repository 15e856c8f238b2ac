//! The levels over time as comma-separated values: a row a tenth of a second. Silence is `-inf`; a
//! level that does not exist yet is empty.

use std::path::Path;

use anyhow::Result;
use ledgerline_measure::Level;
use ledgerline_measure::history::HistoryLevels;

use super::Measurement;

/// The columns of one band, in the order of [`cells`].
const COLUMNS: [&str; 5] =
    ["momentary_lufs", "short_term_lufs", "sample_peak_dbfs", "true_peak_dbtp", "rms_dbfs"];

/// # Errors
///
/// When the file cannot be written.
pub(super) fn write(path: &Path, measured: &[Measurement]) -> Result<()> {
    let mut writer = csv::Writer::from_path(path)?;
    let bands = ["whole", "audible"];
    let columns = bands.iter().flat_map(|band| COLUMNS.map(|column| format!("{band}_{column}")));
    let leading = ["file", "time_s"].map(str::to_owned);
    writer.write_record(leading.into_iter().chain(columns))?;
    for measurement in measured {
        for row in &measurement.history {
            let leading = [measurement.file.path.clone(), format!("{:.1}", row.time_s)];
            let levels = [row.whole, row.audible].into_iter().flat_map(cells);
            writer.write_record(leading.into_iter().chain(levels))?;
        }
    }
    writer.flush()?;
    Ok(())
}

fn cells(levels: HistoryLevels) -> [String; 5] {
    [
        levels.momentary_lufs,
        levels.short_term_lufs,
        levels.sample_peak_dbfs,
        levels.true_peak_dbtp,
        levels.rms_dbfs,
    ]
    .map(cell)
}

fn cell(level: Level) -> String {
    match level.db() {
        None => String::new(),
        Some(db) if db == f64::NEG_INFINITY => "-inf".to_owned(),
        Some(db) => format!("{db:.4}"),
    }
}
