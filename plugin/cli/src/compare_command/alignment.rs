//! How the export lies against the mix, what is left of it, and what was found where, in rows.

use std::io::{Result, Write};

use ledgerline_measure::compare::Comparison;
use ledgerline_measure::compare::MOST_SPOTS;
use ledgerline_measure::compare::record::{Edit, Spot};
use ledgerline_measure::words;

use crate::colour::HEADING;
use crate::text::Table;

/// Edits and spots that are printed.
const MOST_ROWS: usize = 12;

pub(super) fn print(comparison: &Comparison, out: &mut dyn Write) -> Result<()> {
    if comparison.alignment.is_none() {
        return Ok(());
    }
    rows(comparison, out)?;
    edits(&comparison.edits, out)?;
    spots(comparison, out)
}

fn rows(comparison: &Comparison, out: &mut dyn Write) -> Result<()> {
    let Some(at) = comparison.alignment else { return Ok(()) };
    let mut table = Table::new();
    let mut row = |name: &str, value: String| table.row([name.to_owned(), value]);
    row(
        "Delay",
        format!(
            "{} samples ({} ms)",
            words::signed(at.delay_samples, 2),
            words::signed(at.delay_s * 1e3, 3)
        ),
    );
    row("Drift", format!("{} ppm", words::signed(at.drift_ppm, 2)));
    if let Some(gain_db) = comparison.gain_db {
        row("Gain", format!("{} dB", words::signed(gain_db, 2)));
    }
    if let Some(polarity) = comparison.polarity {
        row("Polarity", polarity.word().to_owned());
    }
    if let Some(map) = comparison.channels {
        row("Channels", map.word().to_owned());
    }
    let rates = [comparison.mix.sample_rate_hz, comparison.export.sample_rate_hz];
    if comparison.rate_converted {
        let [mix, export] = rates.map(|hz| words::frequency(f64::from(hz)));
        row("Sample rate", format!("{mix} to {export}"));
    }
    row("Word", word(comparison));
    row("Spectrum", spectrum(comparison));
    if let Some(residual) = comparison.residual {
        row(
            "Residual",
            format!(
                "{} dBFS in all, {} dBFS audible, {} dB against the export",
                residual.total_dbfs, residual.audible_dbfs, residual.relative_db
            ),
        );
    }
    table.print(out)?;
    writeln!(out)
}

fn word(comparison: &Comparison) -> String {
    let [mix, export] = [comparison.mix.used_bits, comparison.export.used_bits].map(words::bits);
    let dither = comparison.words.and_then(|words| words.dither);
    let how = dither.map_or(String::new(), |dither| format!(", {}", dither.word()));
    if mix == export { format!("{mix}{how}") } else { format!("{mix} to {export}{how}") }
}

fn spectrum(comparison: &Comparison) -> String {
    match comparison.band_limit {
        None => "ends where the mix's does".to_owned(),
        Some(limit) => format!(
            "ends at {}, the mix's at {}",
            words::frequency(limit.hz),
            words::frequency(limit.mix_end_hz)
        ),
    }
}

fn edits(edits: &[Edit], out: &mut dyn Write) -> Result<()> {
    if edits.is_empty() {
        return Ok(());
    }
    writeln!(out, "{HEADING}Edits{HEADING:#}")?;
    let mut table = Table::new();
    table.heading(["what", "", "mix, min:s", "export, min:s", "length, s"]);
    for edit in edits.iter().take(MOST_ROWS) {
        table.row([
            edit.kind.word().to_owned(),
            String::new(),
            words::moment(edit.mix_s, 3),
            words::moment(edit.export_s, 3),
            words::fixed(edit.length_s, 3),
        ]);
    }
    table.print(out)?;
    more(edits.len() as u64, out)?;
    writeln!(out)
}

fn spots(comparison: &Comparison, out: &mut dyn Write) -> Result<()> {
    if comparison.spots.is_empty() {
        return Ok(());
    }
    writeln!(out, "{HEADING}Wrong spots{HEADING:#}")?;
    let mut table = Table::new();
    table.heading(["what", "", "export, min:s", "frame", "channel", "samples", "error, dBFS"]);
    for spot in comparison.spots.iter().take(MOST_ROWS.min(MOST_SPOTS)) {
        table.row(spot_row(spot));
    }
    table.print(out)?;
    more(comparison.spots_found, out)?;
    writeln!(out)
}

fn spot_row(spot: &Spot) -> [String; 7] {
    [
        spot.kind.word().to_owned(),
        String::new(),
        words::moment(spot.export_s, 3),
        words::count(Some(spot.export_frame)),
        (spot.channel + 1).to_string(),
        words::count(Some(u64::from(spot.samples))),
        words::level(spot.error_dbfs, 1),
    ]
}

fn more(found: u64, out: &mut dyn Write) -> Result<()> {
    match found.saturating_sub(MOST_ROWS as u64) {
        0 => Ok(()),
        more => writeln!(out, "and {} more", words::count(Some(more))),
    }
}
