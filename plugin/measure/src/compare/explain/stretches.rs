//! Stretches within a segment that are not the mix any more: replaced, silenced, or with something
//! else mixed over.

use crate::compare::median::median;
use crate::compare::pass::{Block, Found};
use crate::compare::record::{Edit, EditKind};
use crate::compare::timeline::Timeline;

/// Length over which blocks are judged together, in seconds.
const WINDOW_S: f64 = 0.1;
/// Shortest stretch that is claimed, in seconds.
const LEAST_S: f64 = 0.15;
/// Stretches closer than this, in seconds, are one.
const JOIN_S: f64 = 0.25;
/// Coherence below which a window is foreign, and that of the whole from which that says anything.
const FOREIGN: f64 = 0.3;
const OVERLAID: f64 = 0.7;
const STEADY: f64 = 0.99;
/// How much more a foreign window leaves over than most (three fifths) do, as a power.
const STANDS_OUT: f64 = 10.0;
/// Level of a silenced window against its prediction: −40 dB.
const SILENCED_SHARE: f64 = 1e-4;
/// Mean square below which a window is not judged: −70 dBFS; and against the whole, −50 dB.
const QUIET_POWER: f64 = 1e-7;
const QUIET_SHARE: f64 = 1e-5;
/// Usual coherence of what was not coded; below it, what is not judged against the whole: −13 dB.
const CLEAN: f64 = 0.9999;
const QUIET_CODED_SHARE: f64 = 0.05;
/// Stretches listed at most.
const MOST_STRETCHES: usize = 200;

/// Blocks that count, and what the others are.
pub(in crate::compare) struct Stretches {
    /// By block: whether it is the mix.
    pub counts: Vec<bool>,
    pub edits: Vec<Edit>,
}

/// Judges the blocks of the pass. `spots` are where single samples are wrong, `rates_hz` the rates of
/// the mix and of the export.
pub(in crate::compare) fn find(
    blocks: &[Block],
    spots: &[Found],
    timeline: &Timeline,
    rates_hz: [f64; 2],
) -> Stretches {
    let mut kinds: Vec<Option<EditKind>> = vec![None; blocks.len()];
    let sums = Sums::of(blocks);
    let block_s = blocks.first().map_or(0.01, |b| f64::from(b.frames.max(1)) / rates_hz[1]);
    let half = ((WINDOW_S / block_s / 2.0) as usize).max(1);
    let windows: Vec<Window> = (0..blocks.len()).map(|n| sums.around(n, half)).collect();
    let mean_power = sums.mean_power();
    let sounds = |window: &Window, share: f64| {
        window.predicted.max(window.heard) > QUIET_POWER.max(share * mean_power)
    };
    // What is no more than what is left at most moments is no other sound.
    let mut left: Vec<f64> = windows.iter().map(Window::left).collect();
    left.sort_by(f64::total_cmp);
    let usual_left = left.get(left.len() * 3 / 5).copied().unwrap_or(0.0);
    let stands_out = |window: &Window| window.left() > STANDS_OUT * usual_left;
    let mut coherences: Vec<f64> =
        windows.iter().filter(|w| sounds(w, QUIET_SHARE)).map(Window::coherence).collect();
    let usual = median(&mut coherences).unwrap_or(0.0);
    // Coders make up what is quiet.
    let quiet_share = if usual > CLEAN { QUIET_SHARE } else { QUIET_CODED_SHARE };
    let judged = |window: &Window| sounds(window, quiet_share);
    for (kind, window) in kinds.iter_mut().zip(&windows) {
        if !judged(window) {
            continue;
        }
        let coherence = window.coherence();
        *kind = if window.heard < SILENCED_SHARE * window.predicted {
            Some(EditKind::Silenced)
        } else if usual <= STEADY || !stands_out(window) {
            None
        } else if coherence < FOREIGN {
            Some(EditKind::Replaced)
        } else if coherence < OVERLAID && window.heard > window.predicted {
            Some(EditKind::Overlaid)
        } else {
            None
        };
    }
    let mut edits = Vec::new();
    for (first, last, kind) in runs(&kinds, (JOIN_S / block_s) as usize) {
        let (start, end) = trimmed(blocks, first, last, half, kind);
        let (from, to) = (blocks[start], blocks[end]);
        let frames = to.frame + i64::from(to.frames) - from.frame;
        let length_s = frames as f64 / rates_hz[1];
        if length_s >= LEAST_S && edits.len() < MOST_STRETCHES {
            edits.push(Edit {
                mix_s: timeline.mix_s(from.frame, rates_hz[0]),
                export_s: from.frame as f64 / rates_hz[1],
                length_s,
                error_s: block_s,
                kind,
            });
        }
    }
    // Windows blur a stretch's ends; what is near one does not count either.
    let mut counts: Vec<bool> = (0..kinds.len())
        .map(|n| {
            let near = n.saturating_sub(half)..(n + half + 1).min(kinds.len());
            kinds[near].iter().all(Option::is_none)
        })
        .collect();
    for spot in spots {
        let (from, to) = (spot.frame, spot.frame + i64::from(spot.samples));
        let first = blocks.partition_point(|block| block.frame + i64::from(block.frames) <= from);
        // A filter rings for a block behind it.
        let past = blocks.partition_point(|block| block.frame < to) + 1;
        counts[first.saturating_sub(1)..past.min(blocks.len())].fill(false);
    }
    Stretches { counts, edits }
}

/// Runs of one kind, joined over short gaps; of several kinds in one run the first counts.
fn runs(kinds: &[Option<EditKind>], join: usize) -> Vec<(usize, usize, EditKind)> {
    let mut runs: Vec<(usize, usize, EditKind)> = Vec::new();
    for (n, kind) in kinds.iter().enumerate() {
        let Some(kind) = kind else { continue };
        match runs.last_mut() {
            Some((_, last, _)) if n - *last <= join => *last = n,
            _ => runs.push((n, n, *kind)),
        }
    }
    runs
}

/// The blocks of a run that by themselves differ: windows reach half a window too far or too short.
fn trimmed(
    blocks: &[Block],
    first: usize,
    last: usize,
    half: usize,
    kind: EditKind,
) -> (usize, usize) {
    let differs = |n: &usize| {
        let block = &blocks[*n];
        match kind {
            EditKind::Silenced => block.heard < 0.01 * block.predicted,
            _ => block.left > 0.3 * block.predicted.max(block.heard),
        }
    };
    let from = first.saturating_sub(half);
    let to = (last + half).min(blocks.len() - 1);
    let start = (from..=last).find(differs).unwrap_or(first);
    let end = (start..=to).rev().find(differs).unwrap_or(last);
    (start, end)
}

/// Mean squares and products around a block.
struct Window {
    zz: f64,
    zy: f64,
    yy: f64,
    heard: f64,
    predicted: f64,
}

impl Window {
    /// Mean square that no gain explains.
    fn left(&self) -> f64 {
        self.yy * (1.0 - self.coherence())
    }

    fn coherence(&self) -> f64 {
        let norm = self.zz * self.yy;
        if norm > 0.0 && self.zy > 0.0 { self.zy * self.zy / norm } else { 0.0 }
    }
}

/// Running sums.
struct Sums(Vec<[f64; 6]>);

impl Sums {
    fn of(blocks: &[Block]) -> Self {
        let mut sums = vec![[0.0; 6]];
        let mut sum = [0.0; 6];
        for block in blocks {
            let parts = [block.zz, block.zy, block.yy, block.heard, block.predicted];
            for (sum, part) in sum.iter_mut().zip(parts) {
                *sum += f64::from(part);
            }
            sum[5] += f64::from(block.frames);
            sums.push(sum);
        }
        Self(sums)
    }

    fn around(&self, block: usize, half: usize) -> Window {
        let last = self.0.len() - 1;
        let (from, to) = (block.saturating_sub(half), (block + half + 1).min(last));
        let part = |k: usize| (self.0[to][k] - self.0[from][k]).max(0.0);
        let frames = part(5).max(1.0);
        let zy = self.0[to][1] - self.0[from][1];
        Window {
            zz: part(0) / frames,
            zy: zy / frames,
            yy: part(2) / frames,
            heard: part(3) / frames,
            predicted: part(4) / frames,
        }
    }

    fn mean_power(&self) -> f64 {
        let last = self.0[self.0.len() - 1];
        if last[5] > 0.0 { last[4] / last[5] } else { 0.0 }
    }
}
