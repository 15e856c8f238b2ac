//! When there is something to say, and what. Every threshold stands in this file.
//!
//! Thresholds without a source are common practice: what an engineer would act on.

mod lossy;
mod path;
mod signal;
mod time;

use super::{Said, said};
use crate::compare::dynamics;
use crate::compare::finding::Code;
use crate::compare::pass::Passed;
use crate::compare::record::{Comparison, Dither};
use crate::compare::stretches::Stretches;
use crate::verdict::Severity;
use crate::words::{count, list};
use lossy::Lossy;

/// How much higher than the rounding of the export's words a residual may be, in dB.
const FLOOR_SLACK_DB: f64 = 1.5;
/// Residual of floating point, in dBFS, and against the export, in dB, that is its rounding.
const FLOAT_FLOOR_DBFS: f64 = -140.0;
const FLOAT_FLOOR_DB: f64 = -120.0;
/// Residual against the export, in dB, that interpolation may leave.
const INTERPOLATED_FLOOR_DB: f64 = -95.0;

/// What several rules look at.
pub(super) struct Facts<'a> {
    pub passed: &'a Passed,
    pub counts: &'a [bool],
    /// Whether the residual is no more than that.
    pub is_rounding: bool,
    /// Whether every sample is the mix's.
    pub is_equal: bool,
    /// The response from mix to export, in dB against its middle, and where that stands.
    pub response: Vec<(f64, f64)>,
    pub lossy: Option<Lossy>,
    /// Gain of the loudest moments of passages against that of their others, in dB.
    pub within_passages_db: Option<f64>,
    /// How many blocks were turned down, and how high they rank among all by level.
    pub reduced: Option<(usize, f64)>,
}

impl<'a> Facts<'a> {
    pub fn of(record: &Comparison, passed: &'a Passed, stretches: &'a Stretches) -> Self {
        let residual = record.residual;
        let heard_dbfs = residual
            .and_then(|residual| {
                Some(residual.total_dbfs.finite()? - residual.relative_db.finite()?)
            })
            .unwrap_or(0.0);
        let floor_dbfs = floor_dbfs(record, heard_dbfs);
        // A residual that a converter's last tenth of the band leaves is not the question here.
        let judged = residual.map(|r| {
            let interpolated = passed.tallies.unequal > 0 && record.rate_converted;
            if interpolated { r.in_band_dbfs } else { r.total_dbfs }
        });
        let is_rounding = judged.is_some_and(|db| db.db().is_some_and(|db| db <= floor_dbfs));
        let mut facts = Self {
            passed,
            counts: &stretches.counts,
            is_rounding,
            is_equal: passed.tallies.samples > 0 && passed.tallies.unequal == 0,
            response: signal::response(&passed.spectra),
            lossy: None,
            within_passages_db: dynamics::within_passages_db(&passed.blocks, &stretches.counts),
            reduced: dynamics::reduced_rank(
                &passed.blocks,
                &stretches.counts,
                f64::from(record.export.sample_rate_hz),
            ),
        };
        facts.lossy = lossy::judge(record, &facts);
        facts
    }
}

/// Residual that rounding alone explains.
fn floor_dbfs(record: &Comparison, heard_dbfs: f64) -> f64 {
    let words = match (record.words.map(|words| words.dither), record.export.used_bits) {
        (Some(Some(Dither::Shaped)), _) => {
            record.words.and_then(|words| words.measured_dbfs.finite()).unwrap_or(0.0) + 1.0
        }
        (_, Some(bits)) if bits <= 24 => {
            // Triangular dither: half a step RMS.
            20.0 * 0.5f64.powi(bits as i32).log10() + FLOOR_SLACK_DB
        }
        _ => FLOAT_FLOOR_DBFS.max(heard_dbfs + FLOAT_FLOOR_DB),
    };
    let whole = record.alignment.is_some_and(|at| {
        at.drift_ppm == 0.0 && at.delay_samples.fract() == 0.0 && !record.rate_converted
    });
    if whole { words } else { words.max(heard_dbfs + INTERPOLATED_FLOOR_DB) }
}

/// All findings.
pub(super) fn all(record: &Comparison, facts: &Facts) -> Vec<Said> {
    let mut said: Vec<Said> = [
        invalid(record),
        time::edited(record),
        time::trimmed(record),
        path::polarity(record),
        path::channels(record),
        time::dropouts(record),
        time::wrong_samples(record),
        signal::clipping(record),
        signal::limiting(record, facts),
        signal::gain_moves(record, facts),
        signal::equalised(record, facts),
        time::drift(record),
        path::band_limited(record),
        path::lossy(record, facts),
        path::rate(record),
        path::word_length(record),
        signal::gain(record),
        signal::loudness(record),
        signal::true_peak(record),
        signal::hidden(record),
        time::delay(record),
        time::ambiguous(record),
    ]
    .into_iter()
    .flatten()
    .collect();
    said.extend(signal::unexplained(record, facts, &said));
    if said.is_empty() {
        said.push(clean());
    }
    said
}

/// Samples that are no numbers.
pub(super) fn invalid(record: &Comparison) -> Option<Said> {
    let counts = [record.mix.invalid_frames, record.export.invalid_frames];
    let names = ["mix", "export"];
    let parts: Vec<String> = counts
        .iter()
        .zip(names)
        .filter(|(count, _)| **count > 0)
        .map(|(number, name)| format!("{} of the {name}", count(Some(*number))))
        .collect();
    (!parts.is_empty()).then(|| {
        said(
            Code::InvalidInput,
            Severity::Fault,
            "it holds samples that are no numbers",
            format!(
                "Frames that hold no numbers (NaN, infinite or absurdly large) count as silence: {}.",
                list(&parts)
            ),
            &[("mix_frames", counts[0] as f64), ("export_frames", counts[1] as f64)],
        )
    })
}

fn clean() -> Said {
    said(Code::Clean, Severity::Clear, "", "Nothing happened on the way.", &[])
}
