//! The gain over time: whether it stays, steps, fades, follows the level or moves in a way that has
//! no name.

use crate::compare::median::median;
use crate::compare::pass::Block;

/// Blocks of a moment: a tenth of a second.
const MOMENT: usize = 10;
/// Moments that a judgement needs.
const LEAST_MOMENTS: usize = 20;
/// How far a moment has to lie from the gain of most, in dB, to be moved.
const MOVED_DB: f64 = 0.3;
/// Share of the moments that has to lie within a range, in dB, for there to be a gain of most.
const HOME_SHARE: f64 = 0.3;
const HOME_DB: f64 = 0.1;
const SHARP_DB: f64 = 0.01;
/// Shortest ride, in moments, how much its middle may scatter, in dB, and moments at its edges.
const LEAST_RIDE: usize = 4;
const RIDE_SCATTER_DB: f64 = 0.15;
const RIDE_EDGE: usize = 2;
/// Least change of a ride, in dB, where the gain of most moments is not known to a hundredth of a dB, or its
/// own scatters by more than a share of it.
const RIDE_DB: f64 = 0.6;
const CLEAR_SHARE: f64 = 0.1;
/// How far down a fade goes at least, in dB, and how much it may rise on its way.
const FADE_DB: f64 = -12.0;
const FADE_RISE_DB: f64 = 0.6;
/// Coherence of a block whose gain is clear, and a step between two, in dB, that is a jump.
const CLEAR: f64 = 0.99;
const JUMP_DB: f64 = 0.12;
/// Coherence of a moment whose gain counts.
const CLEAR_MOMENT: f64 = 0.97;
/// Moments over which loudness and gain are compared.
const SLOW: usize = 30;
/// Correlation of slow gain with slow level below which the one follows the other.
const FOLLOWS: f64 = -0.6;

/// What the gain does.
#[derive(Debug, Clone, PartialEq, Default)]
pub(in crate::compare) struct Course {
    pub shape: Shape,
    /// Range of the gain over moments, without the outermost twentieths, in dB.
    pub range_db: f64,
    /// Steps of the gain from one block to the next that no slow hand makes.
    pub jumps: usize,
    /// Gain of most moments against the prediction, in dB; `None` where there is none.
    pub home_db: Option<f64>,
    /// Whether they have it to a hundredth of a dB, so that it can be told.
    pub is_sharp: bool,
}

/// Its shape.
#[derive(Debug, Clone, PartialEq, Default)]
pub(in crate::compare) enum Shape {
    /// It stays where it is, or too little can be judged.
    #[default]
    Steady,
    /// It stands at other values for a while, or fades.
    Changes(Vec<Change>),
    /// It falls when the programme gets louder, slowly.
    FollowsLoudness,
    /// It moves otherwise.
    Moves,
}

/// A while at another gain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::compare) struct Change {
    /// Frames of the export: where half the way there is made, and half the way back.
    pub start: i64,
    pub end: i64,
    /// By how many frames these may be off: where it is silent, nobody knows.
    pub start_error: i64,
    pub end_error: i64,
    /// Against the gain of most, in dB; of a fade, how far it goes.
    pub change_db: f64,
    /// Whether it is a fade from or to silence, at the beginning or the end.
    pub fade: Option<Fade>,
}

/// Which fade.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::compare) enum Fade {
    In,
    Out,
}

/// A moment's gain and level, in dB, and its blocks.
struct Moment {
    first: usize,
    gain_db: f64,
    level_db: f64,
}

pub(super) fn find(blocks: &[Block], counts: &[bool]) -> Course {
    let moments: Vec<Moment> = blocks
        .chunks(MOMENT)
        .zip(counts.chunks(MOMENT))
        .enumerate()
        .filter(|(_, (_, counts))| counts.iter().all(|counts| *counts))
        .filter_map(|(n, (blocks, _))| {
            let mut whole = Block::default();
            for block in blocks {
                whole.frames += block.frames;
                whole.zz += block.zz;
                whole.zy += block.zy;
                whole.yy += block.yy;
            }
            let level_db = 10.0 * (f64::from(whole.zz) / f64::from(whole.frames.max(1))).log10();
            let [zz, zy, yy] = [whole.zz, whole.zy, whole.yy].map(f64::from);
            let gain_db = whole.gain_db().filter(|_| zy * zy >= CLEAR_MOMENT * zz * yy)?;
            Some(Moment { first: n * MOMENT, gain_db, level_db })
        })
        .collect();
    if moments.len() < LEAST_MOMENTS {
        return Course::default();
    }
    let mut sorted: Vec<f64> = moments.iter().map(|moment| moment.gain_db).collect();
    sorted.sort_by(f64::total_cmp);
    let at = |share: f64| sorted[(share * (sorted.len() - 1) as f64).round() as usize];
    let range_db = at(0.95) - at(0.05);
    let found = home(&sorted);
    let home_db = found.map(|(middle, _)| middle);
    let is_sharp = found.is_some_and(|(_, width)| width <= SHARP_DB);
    let moved =
        |moment: &Moment| home_db.is_none_or(|home| (moment.gain_db - home).abs() > MOVED_DB);
    let shape = if !moments.iter().any(moved) {
        Shape::Steady
    } else if let Some(changes) = home_db.and_then(|home| changes(blocks, &moments, home, is_sharp))
    {
        if changes.is_empty() { Shape::Steady } else { Shape::Changes(changes) }
    } else if range_db < MOVED_DB {
        Shape::Steady
    } else if follows(&moments) {
        Shape::FollowsLoudness
    } else {
        Shape::Moves
    };
    Course { shape, range_db, jumps: jumps(blocks, counts), home_db, is_sharp }
}

/// Steps between neighbouring blocks of some height, in both of which the gain is clear.
fn jumps(blocks: &[Block], counts: &[bool]) -> usize {
    let clear = |n: usize| {
        let block = &blocks[n];
        let [zz, zy, yy] = [block.zz, block.zy, block.yy].map(f64::from);
        let is_clear = counts[n] && zy * zy > CLEAR * zz * yy;
        block.gain_db().filter(|_| is_clear)
    };
    let steps = (1..blocks.len()).filter_map(|n| Some(clear(n)? - clear(n - 1)?));
    steps.filter(|step| step.abs() >= JUMP_DB).count()
}

/// The gain that most moments have, and the range in which it lies.
fn home(sorted: &[f64]) -> Option<(f64, f64)> {
    let share = ((HOME_SHARE * sorted.len() as f64) as usize).max(2);
    let (width, middle) = (0..=sorted.len() - share)
        .map(|n| (sorted[n + share - 1] - sorted[n], sorted[n + share / 2]))
        .min_by(|a, b| a.0.total_cmp(&b.0))?;
    (width <= HOME_DB).then_some((middle, width))
}

/// The changes that explain all moments that moved; `None` where they do not.
fn changes(
    blocks: &[Block],
    moments: &[Moment],
    home_db: f64,
    is_sharp: bool,
) -> Option<Vec<Change>> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for (n, moment) in moments.iter().enumerate() {
        if (moment.gain_db - home_db).abs() <= MOVED_DB {
            continue;
        }
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == n => *last = n,
            _ => runs.push((n, n)),
        }
    }
    let mut found = Vec::new();
    for (first, last) in runs {
        let run = &moments[first..=last];
        if let Some(change) = fade(blocks, moments, (first, last), home_db) {
            found.push(change);
            continue;
        }
        // A single moment that a note's beginning or end disturbs is none.
        if run.len() < LEAST_RIDE {
            if run.len() <= 2 && run.iter().all(|m| (m.gain_db - home_db).abs() < 1.0) {
                continue;
            }
            return None;
        }
        let inner = &run[RIDE_EDGE.min(run.len() / 3)..run.len() - RIDE_EDGE.min(run.len() / 3)];
        let mut levels: Vec<f64> = inner.iter().map(|moment| moment.gain_db).collect();
        let middle = median(&mut levels)?;
        let mut misses: Vec<f64> = levels.iter().map(|level| (level - middle).abs()).collect();
        let scatter_db = 1.4826 * median(&mut misses)?;
        if scatter_db > RIDE_SCATTER_DB {
            return None;
        }
        let change_db = middle - home_db;
        let is_clear = is_sharp && scatter_db < CLEAR_SHARE * change_db.abs();
        if !is_clear && change_db.abs() < RIDE_DB {
            return None;
        }
        let half = home_db + change_db / 2.0;
        let there = |db: f64| (db - half) * change_db.signum() > 0.0;
        let (start, start_error) = crossing(blocks, run[0].first, there, -1)?;
        let (end, end_error) = crossing(blocks, run[run.len() - 1].first + MOMENT - 1, there, 1)?;
        found.push(Change { start, end, start_error, end_error, change_db, fade: None });
    }
    Some(found)
}

/// The frame where blocks change over between home and there, and by how many frames that may be off:
/// from a block that is surely near the edge, the outermost block in that direction that is there still,
/// and the first one beyond it that is home.
fn crossing(
    blocks: &[Block],
    near: usize,
    there: impl Fn(f64) -> bool,
    direction: i64,
) -> Option<(i64, i64)> {
    let from = near.saturating_sub(2 * MOMENT);
    let to = (near + 2 * MOMENT).min(blocks.len() - 1);
    let hits = |n: &usize| blocks[*n].gain_db().is_some_and(&there);
    let end = |n: usize| blocks[n].frame + i64::from(blocks[n].frames);
    let told = |n: &usize| blocks[*n].gain_db().is_some();
    if direction < 0 {
        let first = (from..=to).find(hits)?;
        let before = (0..first).rev().find(told).map_or(blocks[0].frame, end);
        Some((blocks[first].frame, blocks[first].frame - before))
    } else {
        let last = (from..=to).rev().find(hits)?;
        let behind = (last + 1..blocks.len()).find(told);
        let behind = behind.map_or_else(|| end(blocks.len() - 1), |n| blocks[n].frame);
        Some((end(last), behind - end(last)))
    }
}

/// A run that falls to, or rises from, silence at the file's end or beginning.
fn fade(
    blocks: &[Block],
    moments: &[Moment],
    (first, last): (usize, usize),
    home_db: f64,
) -> Option<Change> {
    let run = &moments[first..=last];
    let levels: Vec<f64> = run.iter().map(|moment| moment.gain_db).collect();
    // In the order of time it falls for a fade out, and the other way for one in.
    let falls = |levels: &[f64]| {
        let mut lowest = f64::INFINITY;
        levels.iter().all(|&db| {
            let fits = db <= lowest + FADE_RISE_DB;
            lowest = lowest.min(db);
            fits
        })
    };
    let backwards: Vec<f64> = levels.iter().rev().copied().collect();
    let end = |block: &Block| block.frame + i64::from(block.frames);
    if run.len() < LEAST_RIDE {
        return None;
    }
    let lowest = run.iter().map(|moment| moment.gain_db - home_db).fold(0.0, f64::min);
    if lowest > FADE_DB {
        return None;
    }
    // Where exactly a fade leaves full level cannot be seen.
    let (start_error, end_error) = (i64::MAX, i64::MAX);
    if last + 1 == moments.len() && falls(&levels) {
        let start = blocks[run[0].first].frame;
        let end = end(blocks.last()?);
        let fade = Some(Fade::Out);
        return Some(Change { start, end, start_error, end_error, change_db: lowest, fade });
    }
    if first == 0 && falls(&backwards) {
        let (start, end) = (blocks[0].frame, end(&blocks[run[run.len() - 1].first]));
        let fade = Some(Fade::In);
        return Some(Change { start, end, start_error, end_error, change_db: lowest, fade });
    }
    None
}

/// Whether the gain falls as the loudness of some seconds rises.
fn follows(moments: &[Moment]) -> bool {
    let slow: Vec<(f64, f64)> = moments
        .windows(SLOW)
        .step_by(SLOW / 3)
        .filter_map(|window| {
            let level = 10.0
                * (window.iter().map(|m| 10f64.powf(m.level_db / 10.0)).sum::<f64>()
                    / window.len() as f64)
                    .log10();
            let gain = median(&mut window.iter().map(|m| m.gain_db).collect::<Vec<f64>>())?;
            Some((level, gain))
        })
        .collect();
    if slow.len() < 6 {
        return false;
    }
    // A gain that goes one way all the time follows nothing.
    let one_way = slow.windows(2).filter(|pair| pair[1].1 > pair[0].1).count();
    if 5 * one_way.min(slow.len() - 1 - one_way) < slow.len() {
        return false;
    }
    let count = slow.len() as f64;
    let mean = |of: fn(&(f64, f64)) -> f64| slow.iter().map(of).sum::<f64>() / count;
    let (x, y) = (mean(|s| s.0), mean(|s| s.1));
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for (level, gain) in &slow {
        xx += (level - x).powi(2);
        xy += (level - x) * (gain - y);
        yy += (gain - y).powi(2);
    }
    xx > 0.0 && yy > 0.0 && xy / (xx * yy).sqrt() < FOLLOWS
}
