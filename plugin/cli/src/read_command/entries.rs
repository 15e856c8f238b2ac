//! The entries of a file: where each begins, and what changed there.

use std::io::{Result, Write};

use ledgerline_measure::entries::{Entry, EntryList, MOST_ENTRIES};
use ledgerline_measure::words;

use super::Measurement;
use crate::colour::HEADING;
use crate::text;

/// What is said where nothing was found in a sound that moves all the time.
const MOVES: &str = "No level step was found: that takes a steady sound on either side.";

pub(super) fn print(measurement: &Measurement, out: &mut dyn Write) -> Result<()> {
    let entries = &measurement.entries;
    writeln!(out, "{HEADING}Entries of {}{HEADING:#}", measurement.file.path)?;
    if let Some(older) = older(entries) {
        text::print_paragraph(&older, out)?;
    }
    for entry in entries.iter() {
        writeln!(out)?;
        text::print_paragraph(&line(entry), out)?;
        if let Some(change) = &entry.change {
            text::print_paragraph(&change.sentence, out)?;
        }
    }
    let mut all = entries.iter();
    if all.len() == 1 && !all.all(|entry| entry.steady) {
        text::print_paragraph(MOVES, out)?;
    }
    Ok(())
}

fn older(entries: &EntryList) -> Option<String> {
    (entries.older() > 0).then(|| {
        format!(
            "{} came before these {MOST_ENTRIES} and are only counted.",
            words::counted(entries.older(), "entry", "entries")
        )
    })
}

/// The number, where it lies, and what it begins with.
fn line(entry: &Entry) -> String {
    let levels = &entry.levels.whole.bus.0;
    let [sample_peak, _, rms, ..] = levels;
    format!(
        "{}  {} to {}  {}; RMS {}, sample peak {}",
        entry.number,
        words::moment(entry.start_s, 2),
        words::moment(entry.end_s, 2),
        entry.opened_by.word(),
        words::spoken(*rms, "dBFS"),
        words::spoken(*sample_peak, "dBFS")
    )
}
