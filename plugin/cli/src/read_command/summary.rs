//! Several files, worst first, a line each; then what is wrong with those that have something wrong.

use std::io::{Result, Write};

use ledgerline_measure::verdict::Severity;
use ledgerline_measure::words;
use ledgerline_report::read::by_need;

use super::Measurement;
use crate::text::{self, Table};

/// Files whose findings are told below the table: more are not read by anybody.
const FILES_IN_WORDS: usize = 40;

/// Most characters of a path in the table.
const PATH_CHARACTERS: usize = 34;

pub(super) fn print(measured: &[Measurement], out: &mut dyn Write) -> Result<()> {
    let mut order: Vec<&Measurement> = measured.iter().collect();
    order.sort_by(|one, other| by_need(&one.reading, &other.reading));
    let mut table = Table::new();
    table.heading([
        "file",
        "",
        "audible\nLUFS",
        "whole\nLUFS",
        "audible\ndBTP",
        "whole\ndBFS",
        &format!("{}\ndB", words::AUDIBLE_ROOM),
        &format!("{}\ndB", words::WITHHELD),
    ]);
    for measurement in &order {
        let reading = &measurement.reading;
        let cell = |level| words::level(level, 1);
        table.row([
            text::shortened(&measurement.file.path, PATH_CHARACTERS),
            measurement.severity().word().to_owned(),
            cell(reading.audible.bus.integrated_lufs),
            cell(reading.whole.bus.integrated_lufs),
            cell(reading.audible.bus.true_peak_dbtp),
            cell(reading.whole.bus.sample_peak_dbfs),
            cell(reading.room.true_room_db),
            words::change(reading.room.withheld_db, 1),
        ]);
    }
    table.print(out)?;
    let mut silent = 0u64;
    for (place, measurement) in order.into_iter().enumerate() {
        let findings = measurement.reading.findings.as_slice();
        let serious = findings.iter().filter(|finding| finding.severity >= Severity::Caution);
        let first = serious.clone().next();
        silent += u64::from(first.is_some() && place >= FILES_IN_WORDS);
        if let Some(first) = first.filter(|_| place < FILES_IN_WORDS) {
            let further = serious.count() - 1;
            writeln!(out, "\n{}", measurement.file.path)?;
            text::print_findings(&[*first], out)?;
            if further > 0 {
                writeln!(out, "         and {further} more: --full prints them")?;
            }
        }
    }
    if silent > 0 {
        let files = if silent == 1 { "file" } else { "files" };
        let count = words::count(Some(silent));
        writeln!(out, "\nFindings of {count} more {files}: --full prints them.")?;
    }
    Ok(())
}
