//! The entries of a file: where each begins, and what changed there.

use std::io::{Result, Write};

use ledgerline_measure::entries::Entry;
use ledgerline_measure::{RmsReference, words};
use ledgerline_report::entries::{none_found, older};

use super::Measurement;
use crate::colour::HEADING;
use crate::text;

pub(super) fn print(
    measurement: &Measurement,
    rms_reference: RmsReference,
    out: &mut dyn Write,
) -> Result<()> {
    let entries = &measurement.entries;
    writeln!(out, "{HEADING}Entries of {}{HEADING:#}", measurement.file.path)?;
    if let Some(older) = older(entries) {
        text::print_paragraph(&older, out)?;
    }
    for entry in entries.iter() {
        writeln!(out)?;
        text::print_paragraph(&line(entry, rms_reference), out)?;
        if let Some(change) = &entry.change {
            text::print_paragraph(&change.sentence, out)?;
        }
    }
    if let Some(none_found) = none_found(entries) {
        text::print_paragraph(none_found, out)?;
    }
    Ok(())
}

/// The number, where it lies, and what it begins with.
fn line(entry: &Entry, rms_reference: RmsReference) -> String {
    let levels = &entry.levels.whole.bus.0;
    let [sample_peak, _, rms, ..] = levels;
    format!(
        "{}  {} to {}  {}; RMS {}, sample peak {}",
        entry.number,
        words::moment(entry.start_s, 2),
        words::moment(entry.end_s, 2),
        entry.opened_by.word(),
        words::spoken(rms.plus(rms_reference.offset_db()), "dBFS"),
        words::spoken(*sample_peak, "dBFS")
    )
}
