//! Findings on peaks: clipping that was added, and the true peak.

use super::Facts;
use crate::compare::finding::Code;
use crate::compare::judge::{Said, said};
use crate::compare::purpose::Purpose;
use crate::compare::record::Comparison;
use crate::verdict::Severity;
use crate::words::{counted, fixed, level, list, signed};

/// Flat tops this near to full scale, in dBFS, are clipping by themselves.
const NEAR_FULL_SCALE_DBFS: f64 = -1.0;
/// How much higher the mix would have to reach for a lower flat top to be clipping: in dB, and in
/// steps of the export's words.
const CUT_DB: f64 = 0.1;
const CUT_STEPS: f64 = 2.0;
/// Changes of the true peak that are worth a sentence, and a caution, in dB.
const TRUE_PEAK_DB: f64 = 0.1;
const TRUE_PEAK_CAUTION_DB: f64 = 0.5;

/// By how much the mix, at the export's gain, reaches over the export's largest sample, in dB.
fn cut_db(record: &Comparison) -> Option<f64> {
    let [mix, export] =
        [record.levels.mix, record.levels.export].map(|levels| levels.sample_peak_dbfs.finite());
    Some(mix? + record.gain_db? - export?)
}

/// Whether flat tops were cut off, and are not what rounding or chance left.
fn are_cut(record: &Comparison, facts: &Facts) -> bool {
    let Some(peak_dbfs) = record.levels.export.sample_peak_dbfs.finite() else { return false };
    let step = record.export.used_bits.map_or(0.0, |bits| 0.5f64.powi(bits as i32 - 1));
    let peak = 10f64.powf(peak_dbfs / 20.0);
    let rounding_db = 20.0 * (1.0 + CUT_STEPS * step / peak).log10();
    // A fast limiter leaves a few by chance, at its ceiling.
    let by_gain = facts.limited && facts.stories.bend.is_none();
    peak_dbfs >= NEAR_FULL_SCALE_DBFS
        || !by_gain && cut_db(record).is_some_and(|cut_db| cut_db > CUT_DB.max(rounding_db))
}

pub(super) fn clipping(record: &Comparison, facts: &Facts) -> Option<Said> {
    let added = |count: Option<i64>| u64::try_from(count.unwrap_or(0)).unwrap_or(0);
    let overs = added(record.overs_added);
    let flats = if are_cut(record, facts) { added(record.clipped_runs_added) } else { 0 };
    if overs + flats == 0 {
        return None;
    }
    let parts: Vec<String> = [(overs, "over", "overs"), (flats, "flat top", "flat tops")]
        .into_iter()
        .filter(|(count, ..)| *count > 0)
        .map(|(count, one, many)| counted(count, one, many))
        .collect();
    let what = list(&parts);
    let than = match (record.mix.overs + record.mix.flat_tops, overs + flats) {
        (0, 1) => "once where the mix does not".to_owned(),
        (0, times) => format!("{} where the mix does not", counted(times, "time", "times")),
        (_, times) => format!("{} more often than the mix", counted(times, "time", "times")),
    };
    // Samples over full scale are still there: what is behind the export clips them.
    let over_db = record.levels.export.sample_peak_dbfs.finite().filter(|db| *db > 0.0);
    let coded = record.purpose == Purpose::Lossy && flats == 0 && over_db.is_some();
    let does = if flats == 0 && over_db.is_some() { "goes over full scale" } else { "clips" };
    let severity = if coded { Severity::Caution } else { Severity::Fault };
    let by = over_db.map_or(String::new(), |db| format!(", by up to {} dB", fixed(db, 2)));
    Some(said(
        Code::Clipping,
        severity,
        format!("it {does} {than}"),
        format!("The export {does} {than}: {what}{by}."),
        &[
            ("overs_added", overs as f64),
            ("clipped_runs_added", flats as f64),
            ("over_db", over_db.unwrap_or(f64::NAN)),
            ("cut_db", cut_db(record).filter(|db| *db > CUT_DB).unwrap_or(f64::NAN)),
        ],
    ))
}

pub(super) fn true_peak(record: &Comparison) -> Option<Said> {
    let db = record.true_peak_change_db.finite().filter(|db| db.abs() >= TRUE_PEAK_DB)?;
    let beyond_gain_db = db - record.gain_db.unwrap_or(0.0);
    let export_dbtp = record.levels.export.true_peak_dbtp;
    let rises_over = db > 0.0 && export_dbtp.finite().is_some_and(|dbtp| dbtp > 0.0);
    let severity = if beyond_gain_db >= TRUE_PEAK_CAUTION_DB || rises_over {
        Severity::Caution
    } else {
        Severity::Note
    };
    Some(said(
        Code::TruePeak,
        severity,
        "",
        format!(
            "True peak changes by {} dB, from {} to {} dBTP.",
            signed(db, 1),
            level(record.levels.mix.true_peak_dbtp, 1),
            level(export_dbtp, 1)
        ),
        &[("change_db", db), ("beyond_gain_db", beyond_gain_db)],
    ))
}
