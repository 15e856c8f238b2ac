//! Where the recorder lost samples or played some twice.
//!
//! A clock that is off moves every block of the test by a little more than the one before; a sample
//! that was lost moves all that comes after it by one, at once. A whole number of frames between
//! straight lines of one slope is a slip. The place follows from the feeds: up to it the recording
//! fits them where it lay before, from it on where it lies after.

use super::blocks::{Block, Listener};
use super::clock::Clock;
use crate::sum_test::feed::{Feed, USUAL_LEVEL_DBFS};
use crate::sum_test::schedule::Schedule;

/// How far blocks are searched, in seconds: markers allow a slip of a thousandth of the test.
const SEARCH_S: f64 = 0.09;
/// Neighbouring blocks that differ by less, in frames, belong together.
const LEAST_JUMP_FRAMES: f64 = 0.5;
/// How far a slip may lie from a whole number of frames, and a block from its line.
const MOST_MISS_FRAMES: f64 = 0.2;
/// A recording with more slips than this is broken in another way.
const MOST_SLIPS: usize = 8;
/// Places whose fit is worse by no more than so many samples bring fit alike.
const ALIKE_FRAMES: f64 = 16.0;

/// Samples that the recorder lost or played twice.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::sum_test) struct Slip {
    /// How many it played twice; negative if it lost them.
    pub frames: i64,
    /// The frame of the recording between which it may have happened: the first after the slip, and
    /// the last that may be; the same but in silence.
    pub between: [usize; 2],
}

impl Slip {
    /// The frame at which it is mended.
    fn at_frame(&self) -> usize {
        self.between[0].midpoint(self.between[1])
    }
}

/// How far blocks are searched, in frames.
pub(super) fn search_frames(schedule: &Schedule) -> usize {
    (SEARCH_S * schedule.rate_hz()) as usize
}

/// The slips of a recording in the order of time; none if it has none, or cannot be told.
pub(super) fn find(signal: &[f32], schedule: &Schedule, clock: Clock, feed: Feed) -> Vec<Slip> {
    let search = search_frames(schedule);
    let rough = Listener { signal, schedule, clock, search };
    let Some(slope) = slope(&rough.find(feed).blocks) else { return Vec::new() };
    // A sweep seems to move when it is stretched, so the clock has to be right first.
    let clock = Clock { start: clock.start, stretch: clock.stretch * (1.0 + slope) };
    let listener = Listener { signal, schedule, clock, search };
    let blocks = confirmed(listener.find(feed).blocks);
    let breaks = breaks(&blocks);
    if breaks.is_empty() || breaks.len() > MOST_SLIPS {
        return Vec::new();
    }
    let bounds: Vec<usize> =
        std::iter::once(0).chain(breaks.iter().copied()).chain([blocks.len()]).collect();
    let Some(clocks) = clocks(&blocks, &bounds, clock) else { return Vec::new() };
    let other = other(&listener, feed, &blocks);
    breaks
        .iter()
        .zip(clocks.windows(2))
        .map(|(&index, clocks)| {
            let (before, after) = (&blocks[index - 1], &blocks[index]);
            let frames = (clocks[1].start - clocks[0].start).round() as i64;
            let span = before.middle as u64..after.middle as u64;
            let known = known(schedule, feed, before.sign, other, &span);
            Slip { frames, between: place(signal, &known, span.start, [clocks[0], clocks[1]]) }
        })
        .filter(|slip| slip.frames != 0)
        .collect()
}

/// Where neighbouring blocks jump: the index of the later one.
fn breaks(blocks: &[Block]) -> Vec<usize> {
    (1..blocks.len())
        .filter(|&index| (blocks[index].lag - blocks[index - 1].lag).abs() > LEAST_JUMP_FRAMES)
        .collect()
}

/// The blocks without those that stand alone: noise may hide a block and look like it elsewhere. A
/// marker is loud and long enough to be believed by itself.
fn confirmed(blocks: Vec<Block>) -> Vec<Block> {
    let bounds = [vec![0], breaks(&blocks), vec![blocks.len()]].concat();
    bounds
        .windows(2)
        .map(|run| &blocks[run[0]..run[1]])
        .filter(|run| run.len() > 1 || run.iter().all(|block| block.step.is_none()))
        .flatten()
        .copied()
        .collect()
}

/// The median of the slopes between blocks of one step.
fn slope(blocks: &[Block]) -> Option<f64> {
    let mut slopes: Vec<f64> = blocks
        .windows(2)
        .filter(|pair| pair[0].step.is_some() && pair[0].step == pair[1].step)
        .map(|pair| (pair[1].lag - pair[0].lag) / (pair[1].middle - pair[0].middle))
        .collect();
    slopes.sort_by(f64::total_cmp);
    slopes.get(slopes.len() / 2).copied()
}

/// The clock of each run of blocks, all of one stretch, by least squares; `None` unless all blocks lie
/// on them and they lie whole frames apart.
fn clocks(blocks: &[Block], bounds: &[usize], clock: Clock) -> Option<Vec<Clock>> {
    let runs: Vec<&[Block]> = bounds.windows(2).map(|run| &blocks[run[0]..run[1]]).collect();
    let mean =
        |run: &[Block], of: fn(&Block) -> f64| run.iter().map(of).sum::<f64>() / run.len() as f64;
    let means: Vec<(f64, f64)> = runs
        .iter()
        .map(|run| (mean(run, |block| block.middle), mean(run, |block| block.lag)))
        .collect();
    let (mut xx, mut xy) = (0.0, 0.0);
    for (run, (mean_x, mean_y)) in runs.iter().zip(&means) {
        for block in *run {
            xx += (block.middle - mean_x).powi(2);
            xy += (block.middle - mean_x) * (block.lag - mean_y);
        }
    }
    let slope = if xx > 0.0 { xy / xx } else { return None };
    let levels: Vec<f64> = means.iter().map(|(x, y)| y - slope * x).collect();
    let on_line = runs.iter().zip(&levels).all(|(run, level)| {
        let miss = |block: &Block| (block.lag - slope * block.middle - level).abs();
        run.iter().all(|block| miss(block) < MOST_MISS_FRAMES)
    });
    let clocks: Vec<Clock> = levels
        .iter()
        .map(|level| Clock {
            start: clock.start + clock.stretch * level,
            stretch: clock.stretch * (1.0 + slope),
        })
        .collect();
    let whole = clocks.windows(2).all(|pair| {
        let jump = pair[1].start - pair[0].start;
        (jump - jump.round()).abs() < MOST_MISS_FRAMES
    });
    (on_line && whole).then_some(clocks)
}

/// The feed that this is not.
fn other_feed(feed: Feed) -> Feed {
    match feed {
        Feed::One => Feed::Two,
        Feed::Two => Feed::One,
    }
}

/// How much later the other feed's channel is, in whole frames, and its sign: from blocks that both
/// feeds play at the same time.
fn other(listener: &Listener, feed: Feed, blocks: &[Block]) -> (i64, f64) {
    let theirs = listener.find(other_feed(feed)).blocks;
    let both = theirs.iter().find_map(|theirs| {
        let own = blocks.iter().find(|own| own.middle == theirs.middle)?;
        Some((theirs.lag - own.lag, theirs.sign))
    });
    both.map_or((0, 0.0), |(later, sign)| (later.round() as i64, sign))
}

/// What both feeds make on the bus over a span of the test, by sign and delay alone.
fn known(
    schedule: &Schedule,
    feed: Feed,
    sign: f64,
    (later, other_sign): (i64, f64),
    span: &std::ops::Range<u64>,
) -> Vec<f32> {
    let frames = (span.end - span.start) as usize;
    let (mut sum, mut part) = (vec![0.0; frames], vec![0.0; frames]);
    let others_start = span.start.saturating_add_signed(-later);
    for (feed, start, sign) in
        [(feed, span.start, sign), (other_feed(feed), others_start, other_sign)]
    {
        feed.fill(schedule, start, USUAL_LEVEL_DBFS, &mut part);
        sum.iter_mut().zip(&part).for_each(|(sum, part)| *sum += sign as f32 * part);
    }
    sum
}

/// The recording's frames between which it stops fitting what is known by one clock and fits it by the
/// next.
fn place(signal: &[f32], known: &[f32], first: u64, clocks: [Clock; 2]) -> [usize; 2] {
    let [earlier, later] =
        clocks.map(|clock| clock.resample_from(signal, clock.place(first as f64), known.len()));
    let mut sum = 0.0;
    let sums: Vec<f64> = known
        .iter()
        .zip(earlier.iter().zip(&later))
        .map(|(known, (earlier, later))| {
            sum += f64::from(known * (earlier - later));
            sum
        })
        .collect();
    let most = sums.iter().copied().fold(0.0, f64::max);
    let best = sums.iter().position(|sum| *sum >= most).unwrap_or(0);
    let active = known[..=best].iter().filter(|x| **x != 0.0).count().max(1) as f64;
    let alike = |sum: &f64| *sum >= most * (1.0 - ALIKE_FRAMES / active);
    // In silence every place fits alike.
    let from = sums.iter().position(alike).map_or(0, |index| index + 1);
    let to = sums.iter().rposition(alike).map_or(0, |index| index + 1);
    [from, to].map(|index| {
        let place = clocks[0].place(first as f64 + index as f64);
        (place.round().max(0.0) as usize).min(signal.len())
    })
}

/// A channel of the recording as it would be without the slips.
pub(in crate::sum_test) fn mended(channel: &[f32], slips: &[Slip]) -> Vec<f32> {
    let mut mended = Vec::with_capacity(channel.len());
    let mut next = 0;
    for slip in slips {
        let at = slip.at_frame().clamp(next, channel.len());
        mended.extend_from_slice(&channel[next..at]);
        next = at;
        let count = slip.frames.unsigned_abs() as usize;
        if slip.frames > 0 {
            // Those that were played twice, once.
            next = (at + count).min(channel.len());
        } else {
            // Nobody knows what was lost; a straight line makes no click.
            let [from, to] = [at.checked_sub(1), Some(at)]
                .map(|index| index.and_then(|index| channel.get(index)).copied().unwrap_or(0.0));
            let step = (to - from) / (count + 1) as f32;
            mended.extend((1..=count).map(|n| from + step * n as f32));
        }
    }
    mended.extend_from_slice(&channel[next..]);
    mended
}
