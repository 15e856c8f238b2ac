//! Findings on the signal itself: gain, dynamics, response, levels.

use super::{Facts, sound};
use crate::compare::finding::Code;
use crate::compare::judge::words::moved;
use crate::compare::judge::{Said, said};
use crate::compare::record::{ChannelMap, Comparison};
use crate::verdict::Severity;
use crate::words::{fixed, level, signed, spoken};

/// A gain below is none, in dB.
const NO_GAIN_DB: f64 = 0.005;
const NO_GAIN_NOISY_DB: f64 = 0.1;
const NO_GAIN_COARSE_DB: f64 = 0.2;
/// A change of loudness that is worth a sentence, in LU.
const LOUDNESS_LU: f64 = 0.1;
const HIDDEN_DB: f64 = 3.0;
/// Hidden content below is no news, in dBFS.
const HIDDEN_DBFS: f64 = -80.0;
/// Error from which a gain is told with it, in dB.
const FINE_DB: f64 = 0.02;
/// How many errors a gain has to lie from none.
const GAIN_ERRORS: f64 = 3.0;

pub(super) fn gain(record: &Comparison, facts: &Facts) -> Option<Said> {
    // A number within its own uncertainty is none.
    let none_db = match facts.gain_error_db {
        error if error > FINE_DB => NO_GAIN_COARSE_DB,
        error if error > 0.0 => NO_GAIN_NOISY_DB,
        _ => NO_GAIN_DB,
    };
    let least = none_db.max(GAIN_ERRORS * facts.gain_error_db);
    let db = record.gain_db.filter(|db| db.abs() >= least)?;
    // Of a matrix there is no one gain, and where the gain depends on the level it is known only where
    // there are moments that nothing worked on.
    let by_level = facts.moving || facts.limited;
    let unknown = by_level && !facts.has_home
        || facts.stories.bend.is_some_and(|bend| bend.cut_off.is_none())
        || sound::lingers(facts);
    if record.channels == Some(ChannelMap::Other) || unknown {
        return None;
    }
    let error_db = facts.gain_error_db;
    let within = if error_db > FINE_DB {
        format!(", give or take {} dB", fixed(error_db, 2))
    } else {
        String::new()
    };
    let moved = moved(db);
    Some(said(
        Code::Gain,
        Severity::Note,
        format!("it is {moved}"),
        format!("The export is {moved} than the mix{within}."),
        &[("gain_db", db), ("error_db", error_db)],
    ))
}

pub(super) fn loudness(record: &Comparison) -> Option<Said> {
    let lu = record.loudness_change_lu.finite().filter(|lu| lu.abs() >= LOUDNESS_LU)?;
    Some(said(
        Code::Loudness,
        Severity::Note,
        "",
        format!(
            "Integrated loudness changes by {} LU, from {} to {} LUFS.",
            signed(lu, 1),
            level(record.levels.mix.integrated_lufs, 1),
            level(record.levels.export.integrated_lufs, 1)
        ),
        &[("change_lu", lu)],
    ))
}

pub(super) fn hidden(record: &Comparison, facts: &Facts) -> Option<Said> {
    let pairs = [
        ("above the audible band", record.levels.mix.above_dbfs, record.levels.export.above_dbfs),
        ("below the audible band", record.levels.mix.below_dbfs, record.levels.export.below_dbfs),
        ("DC", record.levels.mix.dc_dbfs, record.levels.export.dc_dbfs),
    ];
    let gain_db = record.gain_db.unwrap_or(0.0);
    let parts: Vec<String> = pairs
        .iter()
        .filter(|(_, mix, export)| {
            let [mix, export] = [mix, export].map(|level| level.finite().unwrap_or(-200.0));
            mix.max(export) > HIDDEN_DBFS && (export - mix - gain_db).abs() >= HIDDEN_DB
        })
        .map(|(name, mix, export)| {
            format!("{name}, from {} to {}", spoken(*mix, "dBFS"), spoken(*export, "dBFS"))
        })
        .collect();
    (!parts.is_empty()).then(|| {
        said(
            Code::Hidden,
            Severity::Note,
            if facts.stories.rest.dc { "its DC is another" } else { "" },
            format!("Hidden content changes: {}.", parts.join("; ")),
            &[],
        )
    })
}
