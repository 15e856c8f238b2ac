//! Other places for a segment: where nothing is like the mix, and where what is said or played again
//! has the course of level of what it repeats.

use super::anchors::{self, Anchor, Plan};
use super::{SMEARED, early};
use crate::compare::Source;
use crate::compare::median::median;
use crate::compare::play::{Failed, Path, Reel};
use crate::compare::timeline::{Segment, Timeline};

/// Likeness of anchors that are lost, for how long, in seconds, they have to be, how much of that is
/// looked for elsewhere, and how many such stretches.
const LOST: f64 = 0.2;
const LOST_S: f64 = 1.2;
const RESCUED_S: f64 = 12.0;
const MOST_RESCUED: usize = 12;
/// Places that leave over no more of the power than this many times what the best one does, and than
/// this share, explain as much.
const AS_GOOD_RATIO: f64 = 2.0;
const AS_GOOD_SHARE: f64 = 1e-5;
/// A place this near to the mix's own time is that, in seconds.
const OWN_TIME_S: f64 = 0.03;

/// Stretches in which nothing is like the mix where it was looked for, looked for elsewhere: sound whose
/// level hardly moves is not found by its course. `None` where there are none, or none is found.
pub(super) fn lost<M: Source, X: Source>(
    mix: &mut Reel<M>,
    export: &mut Reel<X>,
    rough: &Timeline,
    anchors: &[Anchor],
    rates_hz: [f64; 2],
    frames: [i64; 2],
) -> Result<Option<Timeline>, Failed<M::Error, X::Error>> {
    let nominal = rates_hz[0] / rates_hz[1];
    if (rough.step / nominal - 1.0).abs() > SMEARED {
        return Ok(None);
    }
    let mut lost: Vec<(f64, f64)> = Vec::new();
    let mut is_open = false;
    for anchor in anchors {
        let is_lost = anchor.likeness < LOST;
        match lost.last_mut() {
            Some(last) if is_lost && is_open => last.1 = anchor.export,
            _ if is_lost => lost.push((anchor.export, anchor.export)),
            _ => {}
        }
        is_open = is_lost;
    }
    lost.retain(|(from, to)| to - from >= LOST_S * rates_hz[1]);
    let mut segments = rough.segments.clone();
    for (from, to) in lost.into_iter().take(MOST_RESCUED) {
        let length = (to - from).min(RESCUED_S * rates_hz[1]);
        let start = ((from + to - length) / 2.0) as i64;
        let place = early::place(mix, export, rates_hz, frames[0], start, length / rates_hz[1])?;
        let Some(mix_at_zero) = place else { continue };
        // The stretch becomes a segment of its own, and splits the one in which it lies.
        let (from, to) = (from as i64, to as i64);
        let mut split: Vec<Segment> = Vec::new();
        for segment in segments {
            let mut keep = |start: i64, end: i64| {
                if end > start {
                    split.push(Segment { start, end, ..segment });
                }
            };
            keep(segment.start, segment.end.min(from));
            keep(segment.start.max(to), segment.end);
        }
        split.push(Segment { start: from, end: to, mix_at_zero });
        split.sort_by_key(|segment| segment.start);
        segments = split;
    }
    let changed = segments != rough.segments;
    Ok(changed.then_some(Timeline { segments, step: rough.step }))
}

/// Segments at those of their `others` that explain the samples better than the places of a rough
/// timeline do, by the path that the mix was found to go; of places that explain as much, that in the
/// mix's own time. `None` where all stay.
pub(super) fn again<M: Source, X: Source>(
    mix: &mut Reel<M>,
    export: &mut Reel<X>,
    rough: &Timeline,
    others: &[Vec<f64>],
    path: &Path,
    plan: &Plan,
) -> Result<Option<Timeline>, Failed<M::Error, X::Error>> {
    let most = others.iter().map(Vec::len).max().unwrap_or(0);
    if most == 0 {
        return Ok(None);
    }
    // By segment: its places, that of the timeline first, and what each leaves over.
    let mut tried: Vec<Vec<(f64, f64)>> = vec![Vec::new(); rough.segments.len()];
    for round in 0..=most {
        // A round tries one place of every segment that has others.
        let places = rough.segments.iter().zip(others).enumerate();
        let trial: Vec<(usize, Segment)> = places
            .filter(|(_, (_, others))| !others.is_empty())
            .filter_map(|(index, (segment, others))| {
                let place =
                    if round == 0 { Some(&segment.mix_at_zero) } else { others.get(round - 1) };
                place.map(|place| (index, Segment { mix_at_zero: *place, ..*segment }))
            })
            .collect();
        let segments: Vec<Segment> = trial.iter().map(|(_, segment)| *segment).collect();
        let left = left_over(mix, export, Timeline { segments, step: rough.step }, path, plan)?;
        for ((index, segment), left) in trial.iter().zip(left) {
            tried[*index].push((segment.mix_at_zero, left));
        }
    }
    let own_time = OWN_TIME_S * plan.rates_hz()[0];
    let chosen = rough.segments.iter().zip(&tried).map(|(segment, tried)| {
        let least = tried.iter().map(|(_, left)| *left).fold(f64::INFINITY, f64::min);
        let as_good =
            tried.iter().filter(|(_, left)| *left <= AS_GOOD_RATIO * least + AS_GOOD_SHARE);
        let places: Vec<f64> = as_good.map(|(place, _)| *place).collect();
        let own = places.iter().find(|place| place.abs() <= own_time);
        let place = own.or(places.first()).copied().unwrap_or(segment.mix_at_zero);
        Segment { mix_at_zero: place, ..*segment }
    });
    let segments: Vec<Segment> = chosen.collect();
    let changed = segments != rough.segments;
    Ok(changed.then_some(Timeline { segments, step: rough.step }))
}

/// What each segment of a rough timeline leaves over of the export's power, as a share, at the nearest
/// place that its anchors agree on: all, where they agree on none.
fn left_over<M: Source, X: Source>(
    mix: &mut Reel<M>,
    export: &mut Reel<X>,
    mut timeline: Timeline,
    path: &Path,
    plan: &Plan,
) -> Result<Vec<f64>, Failed<M::Error, X::Error>> {
    let found = anchors::find(mix, export, &timeline, plan)?;
    let step = timeline.step;
    for (index, segment) in timeline.segments.iter_mut().enumerate() {
        let own = found.anchors.iter().filter(|anchor| anchor.segment == index);
        let mut places: Vec<f64> = own.map(|anchor| anchor.mix - step * anchor.export).collect();
        if let Some(place) = median(&mut places) {
            segment.mix_at_zero = place;
        }
    }
    let tuned = anchors::tune(mix, export, &timeline, path, plan, f64::INFINITY)?;
    let left = (0..timeline.segments.len()).map(|index| {
        let own = tuned.anchors.iter().filter(|anchor| anchor.segment == index);
        let mut likeness: Vec<f64> = own.map(|anchor| anchor.likeness).collect();
        1.0 - median(&mut likeness).unwrap_or(0.0).max(0.0).powi(2)
    });
    Ok(left.collect())
}
