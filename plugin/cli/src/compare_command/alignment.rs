//! How the export lies against the mix, what is left of it, and what was found where, in rows.

use std::io::{Result, Write};

use ledgerline_measure::compare::Comparison;
use ledgerline_measure::compare::record::{
    ChannelMap, Dither, Edit, EditKind, Polarity, Spot, SpotKind,
};
use ledgerline_measure::{Level, compare::MOST_SPOTS};

use ledgerline_report::numbers;

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
        format!("{} samples ({} ms)", number(at.delay_samples, 2), number(at.delay_s * 1e3, 3)),
    );
    row("Drift", format!("{} ppm", number(at.drift_ppm, 2)));
    if let Some(gain_db) = comparison.gain_db {
        row("Gain", format!("{} dB", number(gain_db, 2)));
    }
    if let Some(polarity) = comparison.polarity {
        row("Polarity", polarity_word(polarity).to_owned());
    }
    if let Some(map) = comparison.channels {
        row("Channels", map_word(map).to_owned());
    }
    let rates = [comparison.mix.sample_rate_hz, comparison.export.sample_rate_hz];
    if comparison.rate_converted {
        let [mix, export] = rates.map(|hz| numbers::frequency(f64::from(hz)));
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

fn number(value: f64, decimals: usize) -> String {
    let level = Level::from_db(value);
    format!("{level:.decimals$}")
}

fn polarity_word(polarity: Polarity) -> &'static str {
    match polarity {
        Polarity::Same => "kept",
        Polarity::Inverted => "turned",
        Polarity::Mixed => "turned in some channels",
    }
}

fn map_word(map: ChannelMap) -> &'static str {
    match map {
        ChannelMap::Same => "in their places",
        ChannelMap::Swapped => "left and right swapped",
        ChannelMap::MonoFold => "folded to mono",
        ChannelMap::LeftOnly => "left only",
        ChannelMap::RightOnly => "right only",
        ChannelMap::Other => "mixed otherwise",
    }
}

fn word(comparison: &Comparison) -> String {
    let bits =
        |bits: Option<u32>| bits.map_or("floating point".to_owned(), |bits| format!("{bits} bits"));
    let [mix, export] = [comparison.mix.used_bits, comparison.export.used_bits].map(bits);
    let how = match comparison.words.and_then(|words| words.dither) {
        None => "",
        Some(Dither::Plain) => ", rounded without dither",
        Some(Dither::Truncated) => ", cut off without dither",
        Some(Dither::Rectangular) => ", rectangular dither",
        Some(Dither::Triangular) => ", triangular dither",
        Some(Dither::Shaped) => ", shaped noise",
        Some(Dither::CannotTell) => ", dither cannot be told",
    };
    if mix == export { format!("{mix}{how}") } else { format!("{mix} to {export}{how}") }
}

fn spectrum(comparison: &Comparison) -> String {
    match comparison.band_limit {
        None => "as far as the mix's".to_owned(),
        Some(limit) => format!(
            "ends at {}, the mix's at {}",
            numbers::frequency(limit.hz),
            numbers::frequency(limit.mix_end_hz)
        ),
    }
}

fn edits(edits: &[Edit], out: &mut dyn Write) -> Result<()> {
    if edits.is_empty() {
        return Ok(());
    }
    writeln!(out, "{HEADING}Edits{HEADING:#}")?;
    let mut table = Table::new();
    table.heading(["what", "", "mix, s", "export, s", "length, s"]);
    for edit in edits.iter().take(MOST_ROWS) {
        let name = match edit.kind {
            EditKind::Removed => "removed",
            EditKind::Inserted => "inserted",
            EditKind::Replaced => "replaced",
            EditKind::Overlaid => "mixed over",
            EditKind::Silenced => "silenced",
            EditKind::StartTrimmed => "start missing",
            EditKind::EndTrimmed => "end missing",
        };
        table.row([
            name.to_owned(),
            String::new(),
            format!("{:.3}", edit.mix_s),
            format!("{:.3}", edit.export_s),
            format!("{:.3}", edit.length_s),
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
    writeln!(out, "{HEADING}Spots{HEADING:#}")?;
    let mut table = Table::new();
    table.heading(["what", "", "export, s", "frame", "channel", "samples", "error, dBFS"]);
    for spot in comparison.spots.iter().take(MOST_ROWS.min(MOST_SPOTS)) {
        table.row(spot_row(spot));
    }
    table.print(out)?;
    more(comparison.spots_found, out)?;
    writeln!(out)
}

fn spot_row(spot: &Spot) -> [String; 7] {
    let name = match spot.kind {
        SpotKind::Zeroed => "zeroed",
        SpotKind::Held => "repeated",
        SpotKind::Clipped => "at the top",
        SpotKind::Wrong => "wrong",
    };
    [
        name.to_owned(),
        String::new(),
        format!("{:.4}", spot.export_s),
        spot.export_frame.to_string(),
        (spot.channel + 1).to_string(),
        spot.samples.to_string(),
        format!("{:.1}", spot.error_dbfs),
    ]
}

fn more(found: u64, out: &mut dyn Write) -> Result<()> {
    match found.saturating_sub(MOST_ROWS as u64) {
        0 => Ok(()),
        more => writeln!(out, "and {more} more"),
    }
}
