//! Straight lines through anchors: one clock, and a step wherever samples were left out or put in.

use super::anchors::Anchor;
use crate::compare::median::median;
use crate::compare::timeline::{Segment, Timeline};

/// Least likeness of an anchor that counts.
const LEAST_LIKENESS: f64 = 0.2;
/// Anchors that a segment needs.
const LEAST_ANCHORS: usize = 3;
/// A step is at least this high, in frames of the mix.
const LEAST_STEP: f64 = 0.35;
/// How far a filter's phase moves sound, at most, in frames of the mix.
const LONGEST_DETOUR: f64 = 64.0;
/// How many anchors' scatter lie between a step and chance.
const STEP_SCATTERS: f64 = 8.0;
/// How far the scatter of an anchor may lie from the line before it is left out.
const OUTLIER_SCATTERS: f64 = 5.0;
/// Anchors are never left out for less than this, in frames.
const LEAST_OUTLIER: f64 = 1e-5;
/// Share of all anchors that has to lie on the lines.
const LEAST_SHARE: f64 = 0.25;
/// A place this near to a whole frame, or as near as its error lets it be known, is one.
const WHOLE_FRAME: f64 = 3e-4;
const WHOLE_ERRORS: f64 = 5.0;
const MOST_WHOLE: f64 = 0.05;
/// A drift that moves the whole file by less than this, in frames, is none.
const NO_DRIFT_FRAMES: f64 = 0.03;
/// How many errors a drift lies from none.
const DRIFT_ERRORS: f64 = 5.0;

/// What the anchors say.
#[derive(Debug, Clone)]
pub(in crate::compare) struct Fit {
    pub timeline: Timeline,
    /// Standard error of a place at the first segment's middle, in frames of the mix.
    pub place_error: f64,
    /// Standard error of the step, as a ratio.
    pub step_error: f64,
}

/// A group of anchors on one line.
type Group = Vec<Anchor>;

/// Lines through first anchors, which may lie on more segments than the rough timeline had.
/// `nominal` is the ratio of the sample rates, `window` an anchor's in frames of the export. `None` where the anchors agree on nothing.
pub(in crate::compare) fn first(
    anchors: &[Anchor],
    rough: &Timeline,
    nominal: f64,
    window: i64,
) -> Option<Fit> {
    let good: Group =
        anchors.iter().copied().filter(|anchor| anchor.likeness >= LEAST_LIKENESS).collect();
    let slope = first_slope(&good, rough.step)?;
    let groups = without_detours(split(&good, slope), slope);
    fit(groups, anchors.len(), rough, nominal, window, 0.0)
}

/// Lines through tuned anchors: the segments stay. `near` is how near to a whole frame a place is one
/// whatever its error.
pub(in crate::compare) fn again(
    anchors: &[Anchor],
    before: &Timeline,
    nominal: f64,
    window: i64,
    near: f64,
) -> Option<Fit> {
    let groups = (0..before.segments.len())
        .map(|segment| {
            let own = |anchor: &&Anchor| {
                anchor.segment == segment && anchor.likeness.abs() >= LEAST_LIKENESS
            };
            anchors.iter().filter(own).copied().collect()
        })
        .collect();
    fit(groups, anchors.len(), before, nominal, window, near)
}

/// Median slope between anchors of one segment, a part of the segment apart.
fn first_slope(anchors: &[Anchor], step: f64) -> Option<f64> {
    let mut slopes = Vec::new();
    let mut start = 0;
    while start < anchors.len() {
        let own = anchors[start..].iter().take_while(|a| a.segment == anchors[start].segment);
        let group = &anchors[start..start + own.count()];
        for part in [2, 4, 8] {
            let apart = (group.len() / part).max(1);
            for pair in group.windows(apart + 1) {
                let (from, to) = (pair[0], pair[apart]);
                slopes.push((to.mix - from.mix) / (to.export - from.export));
            }
        }
        start += group.len();
    }
    slopes.retain(|slope| (slope / step - 1.0).abs() < 2e-3);
    median(&mut slopes)
}

/// Cuts the anchors where several in a row step away from the line, and drops those that stand
/// alone.
fn split(anchors: &[Anchor], slope: f64) -> Vec<Group> {
    let place = |anchor: &Anchor| anchor.mix - slope * anchor.export;
    let mut steps: Vec<f64> =
        anchors.windows(2).map(|pair| (place(&pair[1]) - place(&pair[0])).abs()).collect();
    let scatter = median(&mut steps).unwrap_or(0.0);
    let allowed = (STEP_SCATTERS * scatter).clamp(LEAST_STEP, 20.0);
    let mut groups: Vec<Group> = Vec::new();
    let mut waiting: Group = Vec::new();
    for anchor in anchors {
        let near = |group: &Group| {
            let recent = &group[group.len().saturating_sub(LEAST_ANCHORS)..];
            let mut places: Vec<f64> = recent.iter().map(place).collect();
            median(&mut places).is_some_and(|middle| (place(anchor) - middle).abs() <= allowed)
        };
        if let Some(group) = groups.last_mut()
            && near(group)
        {
            group.push(*anchor);
            waiting.clear();
            continue;
        }
        if !waiting.is_empty() && !near(&waiting) {
            waiting.clear();
        }
        waiting.push(*anchor);
        if waiting.len() == LEAST_ANCHORS {
            groups.push(std::mem::take(&mut waiting));
        }
    }
    // A file so short that it holds few anchors at all.
    if groups.is_empty() && !anchors.is_empty() && anchors.len() < LEAST_ANCHORS {
        groups.push(anchors.to_vec());
    }
    groups
}

/// Joins what lies on either side of a group that steps away by little and soon steps back to where it
/// came from: there a filter's phase moved the sound, and nobody cut it.
fn without_detours(groups: Vec<Group>, slope: f64) -> Vec<Group> {
    let place = |group: &Group| {
        let mut places: Vec<f64> = group.iter().map(|a| a.mix - slope * a.export).collect();
        median(&mut places).unwrap_or(0.0)
    };
    let mut kept: Vec<Group> = Vec::new();
    let mut rest = groups.into_iter().peekable();
    while let Some(group) = rest.next() {
        let detour = match (kept.last(), rest.peek()) {
            (Some(before), Some(after)) => {
                let back = (place(after) - place(before)).abs() < LEAST_STEP;
                let near = (place(&group) - place(before)).abs() < LONGEST_DETOUR;
                back && near && 2 * group.len() < before.len().min(after.len())
            }
            _ => false,
        };
        if detour {
            let after = rest.next().unwrap_or_default();
            kept.last_mut().into_iter().for_each(|before| before.extend(&after));
        } else {
            kept.push(group);
        }
    }
    kept
}

/// One slope for all groups, a place for each.
fn fit(
    groups: Vec<Group>,
    count: usize,
    before: &Timeline,
    nominal: f64,
    window: i64,
    least_near: f64,
) -> Option<Fit> {
    let mut groups: Vec<Group> = groups.into_iter().filter(|group| !group.is_empty()).collect();
    if groups.is_empty() {
        return None;
    }
    let mut slope = before.step;
    let mut scatter = 0.0;
    for _ in 0..12 {
        slope = common_slope(&groups, slope);
        let misses = |groups: &[Group]| -> Vec<f64> {
            groups.iter().flat_map(|group| misses(group, slope)).collect()
        };
        let mut all: Vec<f64> = misses(&groups).into_iter().map(f64::abs).collect();
        let squares: f64 = all.iter().map(|miss| miss * miss).sum();
        scatter = (squares / all.len() as f64).sqrt();
        // From the median, so that outliers do not hide behind themselves.
        let usual = 1.4826 * median(&mut all).unwrap_or(0.0);
        let allowed = (OUTLIER_SCATTERS * usual).max(LEAST_OUTLIER);
        let before: usize = groups.iter().map(Vec::len).sum();
        for group in &mut groups {
            let mut near = self::misses(group, slope).into_iter().map(|m| m.abs() <= allowed);
            group.retain(|_| near.next().unwrap_or(true));
        }
        groups.retain(|group| !group.is_empty());
        if groups.iter().map(Vec::len).sum::<usize>() == before || groups.is_empty() {
            break;
        }
    }
    let kept: usize = groups.iter().map(Vec::len).sum();
    let share = kept as f64 / count.max(1) as f64;
    if kept == 0 || share < LEAST_SHARE {
        return None;
    }
    let spread: f64 = groups.iter().map(|group| spread(group)).sum();
    let step_error = if spread > 0.0 { scatter / spread.sqrt() } else { f64::INFINITY };
    let place_error = scatter / (groups[0].len() as f64).sqrt();
    let longest = groups.last().and_then(|last| last.last()).map_or(0.0, |last| last.export)
        - groups[0][0].export;
    let drift = slope / nominal - 1.0;
    let step = if step_error.is_infinite()
        || (drift * longest).abs() < NO_DRIFT_FRAMES.max(DRIFT_ERRORS * step_error * longest)
    {
        nominal
    } else {
        slope
    };
    merge(&mut groups, step);
    let frames = before.segments.last().map_or(0, |segment| segment.end);
    let mut segments = Vec::new();
    for group in &groups {
        let place = mean(group, |anchor| anchor.mix - step * anchor.export);
        let error = scatter / (group.len() as f64).sqrt();
        let near = (WHOLE_ERRORS * error).clamp(WHOLE_FRAME, MOST_WHOLE).max(least_near);
        let whole = step == 1.0 && (place - place.round()).abs() <= near;
        segments.push(Segment {
            // An anchor speaks for its window.
            start: (group[0].export as i64 - window / 2).max(0),
            end: (group[group.len() - 1].export as i64 + window / 2).min(frames),
            mix_at_zero: if whole { place.round() } else { place },
        });
    }
    let timeline = Timeline { segments, step };
    Some(Fit { timeline, place_error, step_error })
}

/// Joins neighbours that lie on one line: what lay between them told nothing.
fn merge(groups: &mut Vec<Group>, step: f64) {
    let place = |group: &Group| mean(group, |anchor| anchor.mix - step * anchor.export);
    let mut merged: Vec<Group> = Vec::new();
    for group in groups.drain(..) {
        match merged.last_mut() {
            Some(last) if (place(last) - place(&group)).abs() < LEAST_STEP => last.extend(group),
            _ => merged.push(group),
        }
    }
    *groups = merged;
}

fn common_slope(groups: &[Group], before: f64) -> f64 {
    let (mut xy, mut xx) = (0.0, 0.0);
    for group in groups {
        let (mean_x, mean_y) = (mean(group, |a| a.export), mean(group, |a| a.mix));
        xy += group.iter().map(|a| (a.export - mean_x) * (a.mix - mean_y)).sum::<f64>();
        xx += spread(group);
    }
    if xx > 0.0 { xy / xx } else { before }
}

fn spread(group: &[Anchor]) -> f64 {
    let mean_x = mean(group, |anchor| anchor.export);
    group.iter().map(|anchor| (anchor.export - mean_x).powi(2)).sum()
}

fn misses(group: &[Anchor], slope: f64) -> Vec<f64> {
    let mut places: Vec<f64> = group.iter().map(|a| a.mix - slope * a.export).collect();
    let middle = median(&mut places.clone()).unwrap_or(0.0);
    places.iter_mut().for_each(|place| *place -= middle);
    places
}

fn mean(group: &[Anchor], value: impl Fn(&Anchor) -> f64) -> f64 {
    group.iter().map(value).sum::<f64>() / group.len().max(1) as f64
}
