//! Lays the export over the mix: roughly, then to a small part of a sample, with the channels' map
//! and gains.

use super::anchors::{self, Anchor, Failed, Plan};
use super::fit::{self, Fit, median};
use super::mapping::Mapping;
use super::profile::Profile;
use super::record::ChannelMap;
use super::timeline::Timeline;
use super::{Reel, Source, coarse, early};

/// How far a rough place may be off, in seconds.
const SEARCH_S: f64 = 0.025;
/// Rounds of tuning at most.
const MOST_ROUNDS: usize = 4;
/// A place that moves by less than this, in frames, is tuned.
const TUNED_FRAMES: f64 = 1e-5;
/// Likeness below which two files are not the same programme.
const LEAST_LIKENESS: f64 = 0.15;
/// How much more of its power than the usual anchor one may leave over before it is foreign.
const FOREIGN_RATIO: f64 = 10.0;
const FOREIGN_SHARE: f64 = 1e-3;
/// Gains this near to 1 are 1, and as near as their error lets them be known, within a limit.
const UNITY: f64 = 1e-6;
const UNITY_ERRORS: f64 = 4.0;
const MOST_UNITY: f64 = 1e-4;
/// Share of the anchors that has to be ambiguous before the delay is.
const AMBIGUOUS_SHARE: f64 = 0.7;
/// Gains that gather in less than this share of their spread have a mode worth more than their mean.
const MODE_SHARE: f64 = 0.1;
/// Anchors' gains that spread by less than this hardly move, in dB.
const STEADY_DB: f64 = 0.02;

/// Export over mix.
pub(super) struct Aligned {
    pub fit: Fit,
    pub mapping: Mapping,
    /// Median likeness of the anchors with their prediction.
    pub likeness: f64,
    pub ambiguous: bool,
    /// Window of an anchor, in frames of the export.
    pub window: i64,
}

/// Aligns two files; `None` where nothing in them agrees.
pub(super) fn align<M: Source, X: Source>(
    mix: &mut Reel<M>,
    export: &mut Reel<X>,
    profiles: [&Profile; 2],
) -> Result<Option<Aligned>, Failed<M::Error, X::Error>> {
    let rates_hz = profiles.map(|profile| f64::from(profile.facts.sample_rate_hz));
    let frames = profiles.map(|profile| profile.facts.frames as i64);
    let rough = coarse::align(&profiles[0].features, &profiles[1].features, frames[1], rates_hz);
    if let Some(rough) = rough
        && let Some(aligned) = tune(mix, export, &rough, rates_hz, frames)?
    {
        return Ok(Some(aligned));
    }
    let Some(rough) = early::align(mix, export, rates_hz, frames)? else { return Ok(None) };
    tune(mix, export, &rough, rates_hz, frames)
}

fn tune<M: Source, X: Source>(
    mix: &mut Reel<M>,
    export: &mut Reel<X>,
    rough: &Timeline,
    rates_hz: [f64; 2],
    frames: [i64; 2],
) -> Result<Option<Aligned>, Failed<M::Error, X::Error>> {
    let nominal = rates_hz[0] / rates_hz[1];
    let shorter = ((frames[0] as f64 / nominal) as i64).min(frames[1]);
    let plan = Plan::new(rates_hz, shorter, SEARCH_S);
    let window = plan.frames as i64;
    let (found, covariance) = anchors::find(mix, export, rough, &plan)?;
    let ambiguous = found.iter().filter(|anchor| anchor.ambiguous).count() as f64
        > AMBIGUOUS_SHARE * found.len() as f64;
    let Some(mut fit) = fit::first(&found, rough, nominal, window) else { return Ok(None) };
    let Some(mut mapping) = covariance.map() else { return Ok(None) };
    let mut likeness = 0.0;
    // What the usual anchor leaves over; those that leave far more are something else.
    let mut most_left = f64::INFINITY;
    for round in 0..MOST_ROUNDS {
        let (tuned, covariance) =
            anchors::tune(mix, export, &fit.timeline, &mapping.gains, &plan, most_left)?;
        let mut all: Vec<f64> = tuned.iter().map(|anchor| anchor.likeness).collect();
        likeness = median(&mut all).unwrap_or(0.0);
        most_left = FOREIGN_RATIO * (1.0 - likeness * likeness).max(0.0) + FOREIGN_SHARE;
        let Some(next) = fit::again(&tuned, &fit.timeline, nominal, window) else {
            return Ok(None);
        };
        let moved = moved(&fit.timeline, &next.timeline);
        fit = next;
        let Some(next) = covariance.map() else { return Ok(None) };
        let before = mapping.clone();
        mapping = next;
        settle_gain(&mut mapping, &before, &tuned, plan.frames);
        if round > 0 && moved < TUNED_FRAMES {
            break;
        }
    }
    if likeness < LEAST_LIKENESS {
        return Ok(None);
    }
    Ok(Some(Aligned { fit, mapping, likeness, ambiguous, window }))
}

/// How far the segments' places moved, at most, in frames.
fn moved(before: &Timeline, after: &Timeline) -> f64 {
    if before.segments.len() != after.segments.len() {
        return f64::INFINITY;
    }
    let pairs = before.segments.iter().zip(&after.segments);
    pairs
        .flat_map(|(old, new)| {
            [new.start, new.end].map(|frame| {
                (before.place(old, frame as f64) - after.place(new, frame as f64)).abs()
            })
        })
        .fold(0.0, f64::max)
}

/// Where the gain moves, that of most moments counts, not that of the loudest ones; and a gain that
/// cannot be told from 1 is 1.
fn settle_gain(mapping: &mut Mapping, before: &Mapping, anchors: &[Anchor], window: usize) {
    let mut gains: Vec<f64> = anchors
        .iter()
        .filter(|anchor| anchor.likeness > 0.5 && anchor.gain > 0.0)
        .map(|anchor| 20.0 * anchor.gain.log10())
        .collect();
    gains.sort_by(f64::total_cmp);
    if let (Some(mode_db), Some(ratio_db)) = (mode(&gains), ratio_db(mapping, before)) {
        mapping.scale(10f64.powf((mode_db - ratio_db) / 20.0));
    }
    let error = (mapping.left_share.max(0.0) / (anchors.len().max(1) * window) as f64).sqrt();
    let near = (UNITY_ERRORS * error).clamp(UNITY, MOST_UNITY);
    if mapping.map != ChannelMap::Other {
        for gain in mapping.gains.iter_mut().flatten() {
            if (gain.abs() - 1.0).abs() <= near {
                *gain = gain.signum();
            }
        }
    }
}

/// The gain, in dB, at which most anchors gather; `None` where they hardly spread.
fn mode(sorted: &[f64]) -> Option<f64> {
    let count = sorted.len();
    if count < 8 {
        return None;
    }
    let at = |share: f64| sorted[(share * (count - 1) as f64) as usize];
    let spread = at(0.9) - at(0.1);
    if spread < STEADY_DB {
        return None;
    }
    let fifth = (count / 5).max(3);
    let (width, start) = (0..=count - fifth)
        .map(|start| (sorted[start + fifth - 1] - sorted[start], start))
        .min_by(|a, b| a.0.total_cmp(&b.0))?;
    if width < MODE_SHARE * spread {
        return Some(sorted[start + fifth / 2]);
    }
    (spread > 0.3).then(|| at(0.5))
}

/// How much larger the gains of one map are than those of another, in dB.
fn ratio_db(after: &Mapping, before: &Mapping) -> Option<f64> {
    Some(after.gain_db()? - before.gain_db()?)
}
