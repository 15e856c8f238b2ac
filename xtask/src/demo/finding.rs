//! The second track: two noises that add like identical signals on a held peak meter and like
//! independent ones to the ear.

use std::path::Path;

use anyhow::Result;
use ledgerline_measure::{Level, words};
use ledgerline_tests::signals::finding::{LENGTH_S, PEAK_DBFS, Row};

use super::player::{Played, Player};
use super::{print_sentences, wav};
use crate::run;

/// Plays all four rows and prints what each of the sums reads.
///
/// # Errors
///
/// When the plugin fails or a file cannot be written.
pub fn play(player: &Player, folder: &Path) -> Result<()> {
    run::announce(&format!(
        "The finding: uniform noise at {} dBFS, {LENGTH_S} s a row, 48 kHz",
        words::plain(PEAK_DBFS)
    ));
    let mut rows = Vec::new();
    for (number, row) in Row::ALL.into_iter().enumerate() {
        let track = row.play();
        wav::write(&folder.join(format!("finding-{}.wav", number + 1)), &track)?;
        rows.push((row, player.play(row.name(), &track)?));
    }
    println!("\n{}", table(&rows));
    println!(
        "Between rows 2 and 3 the ear, an averaging meter and RMS drop by 3 dB; a held sample peak \
         of the whole band stays.\n"
    );
    if let Some((row, played)) = rows.iter().find(|(row, _)| *row == Row::Independent) {
        print_sentences(&format!("What the plugin found in {}", row.name()), played);
    }
    Ok(())
}

fn table(rows: &[(Row, Played)]) -> String {
    let mut text = format!(
        "{:<24}{:>12}{:>12}{:>12} |{:>14}{:>14}\n",
        "sum L + R of", "sample peak", "true peak", "RMS", "sample peak", "RMS"
    );
    text += &format!(
        "{:<24}{:>12}{:>12}{:>12} |{:>14}{:>14}\n",
        "", "whole dBFS", "whole dBTP", "whole dBFS", "audible dBFS", "audible dBFS"
    );
    for (row, played) in rows {
        let (whole, audible) =
            (&played.snapshot.reading.whole.sum, &played.snapshot.reading.audible.sum);
        let cell = |level: Level, width: usize| format!("{level:>width$.2}");
        text += &format!(
            "{:<24}{}{}{} |{}{}\n",
            row.name(),
            cell(whole.sample_peak_dbfs, 12),
            cell(whole.true_peak_dbtp, 12),
            cell(whole.rms_dbfs, 12),
            cell(audible.sample_peak_dbfs, 14),
            cell(audible.rms_dbfs, 14),
        );
    }
    text
}
