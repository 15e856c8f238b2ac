//! When there is something to say, and what. Every threshold stands in this file.
//!
//! Thresholds without a source are common practice: what an engineer would act on.

mod lossy;
mod path;
mod peaks;
mod signal;
mod sound;
mod time;

use super::{Said, said};
use crate::compare::align::Aligned;
use crate::compare::explain::dynamics;
use crate::compare::explain::stretches::Stretches;
use crate::compare::explain::{Shape, Stories};
use crate::compare::finding::Code;
use crate::compare::pass::Passed;
use crate::compare::record::{Comparison, Dither};
use crate::level::Level;
use crate::verdict::Severity;
use crate::words::{count, level, list};
use lossy::Lossy;

/// How much higher than the rounding of the export's words a residual may be, in dB.
const FLOOR_SLACK_DB: f64 = 1.5;
/// Residual of floating point, in dBFS, and against the export, in dB, that is its rounding.
const FLOAT_FLOOR_DBFS: f64 = -140.0;
const FLOAT_FLOOR_DB: f64 = -120.0;
/// Residual in the audible band against the export, in dB, that goes without saying.
const INAUDIBLE_DB: f64 = -80.0;
/// Residual against the export, in dB, that interpolation may leave.
const INTERPOLATED_FLOOR_DB: f64 = -95.0;

/// What several rules look at.
pub(super) struct Facts<'a> {
    pub passed: &'a Passed,
    pub counts: &'a [bool],
    pub stories: &'a Stories,
    /// Whether a filter is part of the path.
    pub filtered: bool,
    /// Whether gains without filters explain what a map without a name does.
    pub matrix_holds: bool,
    /// Whether a channel of the mix is in none of the export's.
    pub channels_missing: bool,
    /// Mean square of each channel of the mix, over the windows that were related.
    pub mix_powers: &'a [f64],
    /// Whether a limiter or compressor explains the gains.
    pub limited: bool,
    /// Share of what the response leaves over that is still left when each band has its own gain in every
    /// moment.
    pub own_gain_left: f64,
    /// How what is left follows the sound of the same band and moment: correlation and slope.
    pub left_follows: Option<(f64, f64)>,
    /// Share of what gains leave over that filters leave over as well.
    pub filters_leave: f64,
    /// Whether the spectrum ends where coders end it.
    pub has_edge: bool,
    /// Whether the gain moves, and whether most moments have one.
    pub moving: bool,
    pub has_home: bool,
    /// How far the gain may be off, in dB.
    pub gain_error_db: f64,
    /// Whether the residual is no more than that.
    pub is_rounding: bool,
    /// Whether every sample is the mix's.
    pub is_equal: bool,
    pub lossy: Option<Lossy>,
    /// Gain of the loudest moments of passages against that of their others, in dB.
    pub within_passages_db: Option<f64>,
    /// Share of what differs that a gain of every block leaves over.
    pub gain_leaves: f64,
    /// How many blocks were turned down, and how high they rank among all by level.
    pub reduced: Option<(usize, f64)>,
}

impl<'a> Facts<'a> {
    pub fn of(
        record: &Comparison,
        aligned: &'a Aligned,
        passed: &'a Passed,
        stretches: &'a Stretches,
        stories: &'a Stories,
    ) -> Self {
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
            stories,
            filtered: aligned.path.filters.is_some(),
            matrix_holds: aligned.related.as_ref().is_none_or(|related| related.matrix_holds),
            mix_powers: aligned.related.as_ref().map_or(&[], |related| &related.mix_powers),
            channels_missing: false,
            has_edge: record.band_limit_hz.is_some_and(|hz| lossy::EDGE_HZ.contains(&hz)),
            filters_leave: aligned.related.as_ref().map_or(1.0, |related| related.filters_leave),
            own_gain_left: aligned.related.as_ref().map_or(1.0, |related| related.own_gain_left),
            left_follows: aligned.related.as_ref().and_then(|related| related.left_follows),
            limited: false,
            moving: !matches!(stories.course.shape, Shape::Steady),
            // A filter was found over all moments, and has the mean of their gains in it.
            has_home: stories.course.is_sharp && aligned.path.filters.is_none(),
            gain_error_db: gain_error_db(aligned, stories),
            is_rounding,
            is_equal: passed.tallies.samples > 0 && passed.tallies.unequal == 0,
            lossy: None,
            within_passages_db: dynamics::within_passages_db(&passed.blocks, &stretches.counts),
            gain_leaves: dynamics::gain_leaves(&passed.blocks, &stretches.counts),
            reduced: dynamics::reduced_rank(
                &passed.blocks,
                &stretches.counts,
                f64::from(record.export.sample_rate_hz),
            ),
        };
        facts.limited =
            record.dynamics.is_some_and(|dynamics| sound::is_limited(&dynamics, &facts));
        facts.channels_missing = path::missing(record, &facts).is_some();
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

/// How far the gain from mix to export may be off, in dB: by what is left, and by how bands agree.
fn gain_error_db(aligned: &Aligned, stories: &Stories) -> f64 {
    let whole = aligned.mapping.left_share.max(0.0);
    let left = aligned.related.as_ref().map_or(whole, |related| related.filtered_left.max(whole));
    if left < 1e-6 && aligned.path.filters.is_none() {
        return 0.0;
    }
    // Noise gathers moments by chance.
    let own_gain_left = aligned.related.as_ref().map_or(0.0, |related| related.own_gain_left);
    if stories.course.is_sharp && own_gain_left < NOISE_LEFT {
        return NOISY_GAIN_DB;
    }
    if left > MOST_LEFT {
        return f64::INFINITY;
    }
    let known = stories.tone.gain_db.map_or(UNKNOWN_GAIN_DB, |(_, error)| error);
    let filter = if aligned.path.filters.is_some() { FILTER_GAIN_DB } else { 0.0 };
    known.max(filter).max(NOISY_GAIN_DB)
}

/// How far what is left may move a gain, in dB.
const NOISY_GAIN_DB: f64 = 0.01;
/// Share of what the response leaves over that gains of moments leave over where it is noise.
const NOISE_LEFT: f64 = 0.8;
/// Share of the export that filters leave over above which there is no one gain.
const MOST_LEFT: f64 = 0.1;
/// How far a gain may be off on which bands do not agree, in dB.
const UNKNOWN_GAIN_DB: f64 = 0.1;
/// How far a filter's skirts may move the gain of most bands, in dB.
const FILTER_GAIN_DB: f64 = 0.04;

/// All findings.
pub(super) fn all(record: &Comparison, facts: &Facts) -> Vec<Said> {
    let mut said: Vec<Said> = [
        invalid(record),
        time::edited(record),
        time::reordered(record),
        time::repeated(record),
        time::trimmed(record),
        path::polarity(record),
        path::channels(record, facts),
        path::missing(record, facts),
        time::dropouts(record),
        time::wrong_samples(record),
        path::channel_delay(record),
        peaks::clipping(record, facts),
        sound::limiting(record, facts),
        sound::equalised(facts),
        sound::all_pass(facts),
        sound::denoised(facts),
        sound::reverb(record, facts),
        sound::noise(record, facts),
        sound::second_programme(record, facts),
        time::drift(record),
        path::band_limited(record, facts),
        path::lossy(record, facts),
        path::rate(record),
        path::word_length(record),
        signal::gain(record, facts),
        signal::loudness(record),
        peaks::true_peak(record),
        signal::hidden(record, facts),
        time::delay(record),
        time::ambiguous(record),
    ]
    .into_iter()
    .flatten()
    .collect();
    let is_clipped = said.iter().any(|said| said.finding.code == Code::Clipping);
    said.extend(sound::bent(facts, is_clipped));
    said.extend(sound::gain_moves(record, facts));
    said.extend(sound::unexplained(record, facts, &said));
    if said.is_empty() {
        said.push(if facts.is_equal || facts.is_rounding { clean() } else { differs(record) });
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

/// Something differs that no finding is about.
fn differs(record: &Comparison) -> Said {
    let levels = record.residual.map(|residual| [residual.total_dbfs, residual.audible_dbfs]);
    let [all, audible] = levels.unwrap_or([Level::NONE; 2]);
    let by = format!("{} dBFS, by {} dBFS in the audible band", level(all, 1), level(audible, 1));
    let heard_db = record.residual.and_then(|residual| {
        Some(residual.relative_db.finite()? - all.finite()? + audible.finite()?)
    });
    let phrase = format!("a residual of {} dBFS is left", level(all, 1));
    let numbers = [("residual_dbfs", all.finite().unwrap_or(f64::NEG_INFINITY))];
    if heard_db.is_none_or(|db| db < INAUDIBLE_DB) {
        let sentence = format!("Nothing audible happened on the way. The export differs by {by}.");
        return said(Code::Clean, Severity::Clear, phrase, sentence, &numbers);
    }
    let sentence = format!("The export differs by {by}: what was done cannot be told.");
    said(Code::Unexplained, Severity::Note, phrase, sentence, &numbers)
}

fn clean() -> Said {
    said(Code::Clean, Severity::Clear, "", "Nothing happened on the way.", &[])
}
