//! Every limit in words: what it is of, what it allows, and what was found.

use super::finding::{Code, Finding};
use super::record::{Comparison, Edit};
use super::tolerances::Tolerances;
use crate::level::Level;
use crate::verdict::Severity;
use crate::words::{NONE, count, counted, fixed, frequency, level, plain, signed};

/// How many limits there are.
const LIMITS: usize = 17;

/// One limit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limit {
    /// What it is of.
    pub name: &'static str,
    /// What is allowed.
    pub allowed: String,
    /// What the comparison found; `–` where that could not be measured.
    pub found: String,
}

/// The limits of a comparison.
#[must_use]
pub fn of(record: &Comparison) -> Vec<Limit> {
    let rows = allowed(&record.tolerances).into_iter().zip(found(record));
    rows.map(|((name, allowed), found)| Limit { name, allowed, found }).collect()
}

/// What is allowed, limit by limit, each with its name.
#[must_use]
pub fn allowed(limits: &Tolerances) -> [(&'static str, String); LIMITS] {
    let number = |sign: &str, limit: Option<f64>, unit: &str| match limit {
        Some(limit) => format!("{sign}{} {unit}", plain(limit)),
        None => "anything".to_owned(),
    };
    let lowest = |hz: Option<f64>| match hz {
        Some(hz) => format!("at least {}", frequency(hz)),
        None => "anything".to_owned(),
    };
    let most = |limit: Option<u64>| match limit {
        Some(0) => "none".to_owned(),
        Some(limit) => format!("at most {}", count(Some(limit))),
        None => "any number".to_owned(),
    };
    let free = |any: bool, kept: &str| if any { "anything" } else { kept }.to_owned();
    [
        ("Gain", number("±", limits.gain_db, "dB")),
        ("Residual, audible", number("at most ", limits.residual_dbfs, "dBFS")),
        ("Noise against the sound", number("at most ", limits.noise_db, "dB")),
        ("Change in loudness", number("±", limits.loudness_lu, "LU")),
        ("Rise in true peak", number("at most ", limits.true_peak_db, "dB")),
        ("End of the spectrum", lowest(limits.band_hz)),
        ("Range of the frequency response", number("at most ", limits.response_db, "dB")),
        ("Movement of the gain", number("at most ", limits.dynamics_db, "dB")),
        ("Delay", number("±", limits.delay_ms, "ms")),
        ("Drift", number("±", limits.drift_ppm, "ppm")),
        ("DC, where it was added", number("at most ", limits.dc_dbfs, "dBFS")),
        ("Overs and flat tops added", most(limits.overs)),
        ("Dropouts and wrong spots", most(limits.spots)),
        ("Noise, reverberation", free(limits.any_noise, "none added or taken away")),
        ("Polarity", free(limits.any_polarity, "kept")),
        ("Channels", free(limits.any_channels, "as in the mix")),
        ("Pieces", free(limits.any_edits, "none missing, added or replaced")),
    ]
}

fn found(record: &Comparison) -> [String; LIMITS] {
    let none = || NONE.to_owned();
    let number = |value: Option<f64>, decimals: usize, unit: &str| {
        value.map_or_else(none, |value| format!("{} {unit}", fixed(value, decimals)))
    };
    let change = |value: Option<f64>, decimals: usize, unit: &str| {
        value.map_or_else(none, |value| format!("{} {unit}", signed(value, decimals)))
    };
    let at = record.alignment;
    let residual = record.residual.map_or(Level::NONE, |residual| residual.audible_dbfs);
    let end = match (record.band_limit_hz, at) {
        (Some(hz), _) => frequency(hz),
        (None, Some(_)) => "where the mix's is".to_owned(),
        (None, None) => none(),
    };
    let seen = |range_db: Option<f64>| match (range_db, at) {
        (Some(db), _) if db.is_finite() => format!("{} dB", fixed(db, 1)),
        (Some(_), _) => "it moves".to_owned(),
        (None, Some(_)) => "none found".to_owned(),
        (None, None) => none(),
    };
    // As the finding tells them: not what rounding or chance left.
    let clipping = record.findings.iter().find(|finding| finding.code == Code::Clipping);
    let clipped = clipping.map_or("none found".to_owned(), |finding| {
        let added = ["overs_added", "clipped_runs_added"]
            .map(|name| finding.numbers.get(name).map(|number| *number as u64));
        added.map(count).join(" and ")
    });
    let edits = |edits: &[Edit]| counted(edits.len() as u64, "edit", "edits");
    let noise = record.findings.iter().any(|finding| finding.code.is_of_noise());
    let noise = if noise { "changed" } else { "none found" }.to_owned();
    [
        change(record.gain_db, 2, "dB"),
        format!("{} dBFS", level(residual, 1)),
        number(noise_db(record), 1, "dB"),
        change(record.loudness_change_lu.finite(), 2, "LU"),
        change(record.true_peak_change_db.finite(), 2, "dB"),
        end,
        seen(response_range_db(record)),
        seen(gain_range_db(record)),
        change(at.map(|at| at.delay_s * 1e3), 3, "ms"),
        change(at.map(|at| at.drift_ppm), 2, "ppm"),
        format!("{} dBFS", level(record.levels.export.dc_dbfs, 1)),
        clipped,
        at.map_or_else(none, |_| count(Some(record.spots_found))),
        at.map_or_else(none, |_| noise),
        record.polarity.map_or_else(none, |polarity| polarity.word().to_owned()),
        record.channels.map_or_else(none, |map| map.word().to_owned()),
        at.map_or_else(none, |_| edits(&record.edits)),
    ]
}

/// What no linear filter explains against the export's own level, in dB; `None` where there is
/// nothing of it.
pub(super) fn noise_db(record: &Comparison) -> Option<f64> {
    let residual = record.residual?;
    let export_dbfs = residual.total_dbfs.finite()? - residual.relative_db.finite()?;
    Some(residual.unexplained_dbfs.finite()? - export_dbfs)
}

/// Range of the frequency response, in dB, where it was found to have moved.
pub(super) fn response_range_db(record: &Comparison) -> Option<f64> {
    widest(record, |code| code == Code::Equalised)
}

/// How far the gain moved with level or time, in dB, where it was found to; infinite where a finding
/// says that it did and not by how much.
pub(super) fn gain_range_db(record: &Comparison) -> Option<f64> {
    widest(record, Code::is_of_dynamics)
}

/// The largest range that findings of some codes tell.
fn widest(record: &Comparison, counts: impl Fn(Code) -> bool) -> Option<f64> {
    let told = |finding: &&Finding| finding.severity >= Severity::Caution && counts(finding.code);
    record.findings.iter().filter(told).map(range_db).reduce(f64::max)
}

/// How far a finding says that something moved, in dB; infinite where it does not say.
pub(super) fn range_db(finding: &Finding) -> f64 {
    let number = ["most_reduction_db", "range_db", "change_db"]
        .iter()
        .find_map(|name| finding.numbers.get(name));
    number.map_or(f64::INFINITY, |db| db.abs())
}
