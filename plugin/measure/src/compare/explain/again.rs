//! What the last pass shows that it should have known before: the gain of moments that nothing worked
//! on, and stretches that would spoil the spectra. With these it is made again.

use std::ops::Range;

use super::dynamics::gain_left_alone_db;
use super::stretches::Stretches;
use crate::compare::align::Aligned;
use crate::compare::pass::Passed;
use crate::compare::record::EditKind;

/// Blocks that a gain needs.
const LEAST_BLOCKS: usize = 30;
/// Share of the blocks that has to agree, and how closely, in dB.
const AGREEING_SHARE: usize = 5;
const AGREE_DB: f64 = 0.004;
/// A correction smaller than this is none, in dB.
const LEAST_DB: f64 = 2e-4;
/// A gain this near to 1 is 1, then.
const UNITY: f64 = 3e-4;
/// Room around a spot, in seconds.
const AROUND_S: f64 = 0.02;

/// Corrects the gains if many blocks agree on it, or if the quiet ones tell what a limiter left
/// alone; whether it did.
pub(in crate::compare) fn settle_gain(
    aligned: &mut Aligned,
    passed: &Passed,
    stretches: &Stretches,
    rate_hz: f64,
) -> bool {
    // A filter has its gain in it.
    if aligned.path.filters.is_some() {
        return false;
    }
    let mapping = &mut aligned.mapping;
    let mut gains: Vec<f64> = passed
        .blocks
        .iter()
        .zip(&stretches.counts)
        .filter(|(_, counts)| **counts)
        .filter_map(|(block, _)| block.gain_db())
        .collect();
    if gains.len() < LEAST_BLOCKS {
        return false;
    }
    gains.sort_by(f64::total_cmp);
    let part = gains.len() / AGREEING_SHARE;
    let narrowest = (0..=gains.len() - part)
        .map(|start| (gains[start + part - 1] - gains[start], gains[start + part / 2]))
        .min_by(|a, b| a.0.total_cmp(&b.0));
    let Some((width, middle_db)) = narrowest else { return false };
    let middle_db = if width <= AGREE_DB {
        middle_db
    } else {
        gain_left_alone_db(&passed.blocks, &stretches.counts, rate_hz).unwrap_or(0.0)
    };
    let before = mapping.gains.clone();
    if middle_db.abs() >= LEAST_DB {
        mapping.scale(10f64.powf(middle_db / 20.0));
    }
    for gain in mapping.gains.iter_mut().flatten() {
        if (gain.abs() - 1.0).abs() <= UNITY {
            *gain = gain.signum();
        }
    }
    if mapping.gains == before {
        return false;
    }
    aligned.path.gains.clone_from(&mapping.gains);
    true
}

/// Frames of the export that are not the mix.
pub(in crate::compare) fn foreign(
    passed: &Passed,
    stretches: &Stretches,
    rate_hz: f64,
) -> Vec<Range<i64>> {
    let frame = |s: f64| (s * rate_hz) as i64;
    let edits = stretches
        .edits
        .iter()
        .filter(|edit| {
            matches!(edit.kind, EditKind::Replaced | EditKind::Overlaid | EditKind::Silenced)
        })
        .map(|edit| {
            let end_s = edit.export_s + edit.length_s + AROUND_S;
            frame(edit.export_s - AROUND_S)..frame(end_s)
        });
    let spots = passed.spots.iter().map(|spot| {
        let around = frame(AROUND_S);
        spot.frame - around..spot.frame + i64::from(spot.samples) + around
    });
    edits.chain(spots).collect()
}
