//! Where exactly a segment ends and the next begins: the frames that the one place of the mix
//! explains, those that the other does, and those that neither does.

use super::Aligned;
use crate::compare::Source;
use crate::compare::play::{Failed, Path, Predictor, Reel};
use crate::compare::record::{Edit, EditKind};
use crate::compare::timeline::{Segment, Timeline};

/// Most points at which the three are weighed; longer regions are weighed more coarsely.
const MOST_POINTS: usize = 1 << 20;
/// Power left over, as a share of the export's, from which a place explains nothing: ten times what
/// is usual next to the change, within limits.
const UNEXPLAINED_RATIO: f64 = 10.0;
const UNEXPLAINED_SHARES: (f64, f64) = (1e-4, 0.5);
/// Power of a frame below which all explanations are as good: −100 dBFS.
const SILENCE_POWER: f64 = 1e-10;
/// How far the mix goes back at most, in seconds, for that to be a repetition and no other order.
const LONGEST_REPEAT_S: f64 = 1.0;
/// How long a filter rings at a cut, in seconds, at most.
const RINGING_S: f64 = 0.05;
/// How far pieces of another order may overlap, in seconds: where they meet is not known to the frame.
const OVERLAP_S: f64 = 0.05;
/// Frames played at a time.
const CHUNK_FRAMES: usize = 4096;
/// Costs this near to the least, as a share of what the region holds, are as good.
const AS_GOOD: f64 = 1e-3;

/// The frames of the export between which two segments change over.
#[derive(Debug, Clone, Copy)]
struct Change {
    /// Frame past the last that the earlier segment explains.
    end: i64,
    /// First frame that the later one explains.
    start: i64,
    /// How far both may be off, in frames.
    error: i64,
}

/// Extends the segments of a fit until they meet, and lists what was done between them.
pub(in crate::compare) fn close<M: Source, X: Source>(
    mix: &mut Reel<M>,
    export: &mut Reel<X>,
    aligned: &mut Aligned,
    frames: [i64; 2],
    rates_hz: [f64; 2],
) -> Result<Vec<Edit>, Failed<M::Error, X::Error>> {
    let Aligned { fit, path, window, .. } = aligned;
    let (timeline, window) = (&mut fit.timeline, *window);
    let mut edits = Vec::new();
    for later in 1..timeline.segments.len() {
        let region = [
            (timeline.segments[later - 1].end - window).max(timeline.segments[later - 1].start),
            (timeline.segments[later].start + window).min(timeline.segments[later].end),
        ];
        let mut change = change(mix, export, timeline, later, path, region, window)?;
        if path.filters.is_some() && change.start - change.end < (RINGING_S * rates_hz[1]) as i64 {
            // A filter rings at a cut, and neither side explains that.
            let middle = (change.start + change.end) / 2;
            change.error = change.error.max((change.start - change.end) / 2);
            (change.end, change.start) = (middle, middle);
        }
        timeline.segments[later - 1].end = change.end;
        timeline.segments[later].start = change.start;
        edits.extend(edits_at(timeline, later, change, rates_hz));
    }
    let count = timeline.segments.len();
    let step = timeline.step;
    // Where the first segment reaches back to the beginning of one of the files, and the last one
    // forward to the end of one.
    let (first, last) = (timeline.segments[0], timeline.segments[count - 1]);
    timeline.segments[0].start = (-first.mix_at_zero / step).ceil().max(0.0) as i64;
    let end = ((frames[0] as f64 - last.mix_at_zero) / step).ceil().min(frames[1] as f64);
    timeline.segments[count - 1].end = end as i64;
    timeline.segments.retain(|segment| segment.end > segment.start);
    Ok(moved(timeline, rates_hz).unwrap_or(edits))
}

/// Finds the change between segment `later` and the one before it in a region of the export.
fn change<M: Source, X: Source>(
    mix: &mut Reel<M>,
    export: &mut Reel<X>,
    timeline: &Timeline,
    later: usize,
    path: &Path,
    [from, to]: [i64; 2],
    window: i64,
) -> Result<Change, Failed<M::Error, X::Error>> {
    let frames = usize::try_from(to - from).unwrap_or(0);
    let width = frames.div_ceil(MOST_POINTS).max(1);
    let mut costs = [later - 1, later].map(|_| vec![0f32; frames.div_ceil(width)]);
    let mut power = vec![0f32; frames.div_ceil(width)];
    for (index, costs) in [later - 1, later].into_iter().zip(&mut costs) {
        let segment = timeline.segments[index];
        let mut predictor = Predictor::new(timeline, path, mix.channels());
        let mut plain = vec![vec![0.0; CHUNK_FRAMES]; path.gains.len()];
        let mut predicted = plain.clone();
        let mut heard = vec![0.0; CHUNK_FRAMES];
        power.fill(0.0);
        for start in (from..to).step_by(CHUNK_FRAMES) {
            let count = CHUNK_FRAMES.min((to - start) as usize);
            predictor
                .both(mix, &segment, start, &mut plain, &mut predicted)
                .map_err(Failed::Mix)?;
            export.show(start, start + count as i64).map_err(Failed::Export)?;
            for (channel, predicted) in predicted.iter().enumerate() {
                export.copy(channel, start, &mut heard);
                for n in 0..count {
                    let predicted = predicted[n];
                    let point = ((start - from) as usize + n) / width;
                    costs[point] += (heard[n] - predicted).powi(2) as f32;
                    power[point] += heard[n].powi(2) as f32;
                }
            }
        }
    }
    let known = (window as usize / 4 / width).clamp(1, power.len().max(1));
    let change = cheapest(&costs, &power, unexplained_share(&costs, &power, known));
    let frame = |point: usize| from + (point * width) as i64;
    Ok(Change {
        end: frame(change.0).min(to),
        start: frame(change.1).min(to),
        error: (change.2 * width) as i64,
    })
}

/// The share of the export's power that may be left over, from the outer `known` points of a region:
/// those at its beginning belong to the first segment, those at its end to the second.
fn unexplained_share(costs: &[Vec<f32>; 2], power: &[f32], known: usize) -> f64 {
    let sum = |values: &[f32]| values.iter().map(|&x| f64::from(x)).sum::<f64>();
    let last = power.len().saturating_sub(known);
    let outer = [0..known.min(power.len()), last..power.len()];
    let usual = costs.iter().zip(outer).map(|(cost, range)| {
        let heard = sum(&power[range.clone()]);
        if heard > 0.0 { sum(&cost[range]) / heard } else { 0.0 }
    });
    let (least, most) = UNEXPLAINED_SHARES;
    (UNEXPLAINED_RATIO * usual.fold(0.0, f64::max)).clamp(least, most)
}

/// First point not explained by the first, first point explained by the second, and by how many
/// points these may be off.
fn cheapest([first, second]: &[Vec<f32>; 2], power: &[f32], share: f64) -> (usize, usize, usize) {
    let count = power.len();
    let unexplained = |point: usize| (share * f64::from(power[point])).max(SILENCE_POWER);
    // Cost of the points before a change straight from the first to the second, and of those after.
    let total_second: f64 = second.iter().map(|&cost| f64::from(cost)).sum();
    let total_power: f64 = power.iter().map(|&power| f64::from(power)).sum();
    let (mut before, mut neither_before, mut second_before) = (0.0, 0.0, 0.0);
    // The cheapest end of the first segment so far, as if neither explained what follows.
    let mut best_end = (0.0, 0);
    let mut best = (f64::INFINITY, 0, 0);
    let mut direct = Vec::with_capacity(count + 1);
    for point in 0..=count {
        if before - neither_before < best_end.0 {
            best_end = (before - neither_before, point);
        }
        let after = total_second - second_before;
        direct.push(before + after);
        let cost = best_end.0 + neither_before + after;
        if cost < best.0 {
            best = (cost, best_end.1, point);
        }
        if point < count {
            before += f64::from(first[point]);
            second_before += f64::from(second[point]);
            neither_before += unexplained(point);
        }
    }
    // A gap that explains hardly more than a cut does is a cut.
    let (cut, cheapest) = (0..=count)
        .map(|point| (point, direct[point]))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .unwrap_or((0, 0.0));
    if cheapest <= best.0 + AS_GOOD * total_power {
        let good = |cost: &f64| *cost <= cheapest + AS_GOOD * AS_GOOD * total_power;
        let from = direct.iter().position(good).unwrap_or(cut);
        let to = direct.iter().rposition(good).unwrap_or(cut);
        return (cut, cut, (to - from) / 2);
    }
    (best.1, best.2, 0)
}

/// What was done where two segments meet.
fn edits_at(timeline: &Timeline, later: usize, change: Change, rates_hz: [f64; 2]) -> Vec<Edit> {
    let (before, after) = (timeline.segments[later - 1], timeline.segments[later]);
    let mix_s = timeline.place(&before, change.end as f64) / rates_hz[0];
    let mix_to_s = timeline.place(&after, change.start as f64) / rates_hz[0];
    let export_s = change.end as f64 / rates_hz[1];
    let export_gap_s = (change.start - change.end) as f64 / rates_hz[1];
    let mix_gap_s = mix_to_s - mix_s;
    let error_s = change.error as f64 / rates_hz[1];
    let edit = |length_s: f64, kind| Edit { mix_s, export_s, length_s, error_s, kind };
    // A frame either way is the rounding of the two rates.
    let frame_s = 1.5 / rates_hz[0].min(rates_hz[1]);
    let mut edits = Vec::new();
    if export_gap_s > frame_s && mix_gap_s > frame_s {
        edits.push(edit(export_gap_s, EditKind::Replaced));
        let missing_s = mix_gap_s - export_gap_s;
        if missing_s.abs() > frame_s {
            let kind = if missing_s > 0.0 { EditKind::Removed } else { EditKind::Inserted };
            edits.push(edit(missing_s.abs(), kind));
        }
    } else if mix_gap_s - export_gap_s > 0.0 {
        edits.push(edit(mix_gap_s - export_gap_s, EditKind::Removed));
    } else if mix_gap_s < -frame_s && mix_gap_s >= -LONGEST_REPEAT_S && export_gap_s <= frame_s {
        // The mix goes back, and nothing was put between: what lies there is heard once more.
        edits.push(edit(-mix_gap_s, EditKind::Repeated));
    } else {
        edits.push(edit(export_gap_s - mix_gap_s, EditKind::Inserted));
    }
    edits
}

/// Pieces in another order: where the segments, sorted by their place in the mix, hardly overlap, each
/// that stands before one that belongs before it was moved; what no segment holds was removed or
/// inserted. `None` where the order is the mix's, or pieces are there twice.
fn moved(timeline: &Timeline, rates_hz: [f64; 2]) -> Option<Vec<Edit>> {
    let step = timeline.step;
    let span = |segment: &Segment| {
        let from = timeline.place(segment, segment.start as f64);
        (from, from + step * (segment.end - segment.start) as f64)
    };
    let slack = OVERLAP_S * rates_hz[0];
    let goes_back =
        timeline.segments.windows(2).any(|pair| span(&pair[1]).0 < span(&pair[0]).1 - slack);
    if !goes_back {
        return None;
    }
    let mut sorted: Vec<&Segment> = timeline.segments.iter().collect();
    sorted.sort_by(|a, b| span(a).0.total_cmp(&span(b).0));
    if sorted.windows(2).any(|pair| span(pair[1]).0 < span(pair[0]).1 - slack) {
        return None;
    }
    // The longest pieces whose order is the mix's stay; the others moved.
    let lengths: Vec<i64> = timeline.segments.iter().map(|s| s.end - s.start).collect();
    let count = timeline.segments.len();
    let (mut best, mut from) = (lengths.clone(), vec![None; count]);
    for later in 1..count {
        for earlier in 0..later {
            let in_order = span(&timeline.segments[earlier]).0 < span(&timeline.segments[later]).0;
            if in_order && best[earlier] + lengths[later] > best[later] {
                best[later] = best[earlier] + lengths[later];
                from[later] = Some(earlier);
            }
        }
    }
    let mut stays = vec![false; count];
    let mut at = (0..count).max_by_key(|n| best[*n]);
    while let Some(n) = at {
        stays[n] = true;
        at = from[n];
    }
    let edit = |mix: f64, export: i64, frames: f64, kind| Edit {
        mix_s: mix / rates_hz[0],
        export_s: export as f64 / rates_hz[1],
        length_s: frames / rates_hz[0],
        error_s: 0.0,
        kind,
    };
    let mut edits: Vec<Edit> = timeline
        .segments
        .iter()
        .zip(&stays)
        .filter(|(_, stays)| !**stays)
        .map(|(segment, _)| {
            let (start, end) = span(segment);
            edit(start, segment.start, end - start, EditKind::Moved)
        })
        .collect();
    for pair in sorted.windows(2) {
        let (end, start) = (span(pair[0]).1, span(pair[1]).0);
        if start - end > slack {
            edits.push(edit(end, pair[0].end, start - end, EditKind::Removed));
        }
    }
    for pair in timeline.segments.windows(2) {
        let gap = (pair[1].start - pair[0].end) as f64 * step;
        if gap > slack {
            edits.push(edit(span(&pair[0]).1, pair[0].end, gap, EditKind::Inserted));
        }
    }
    Some(edits)
}
