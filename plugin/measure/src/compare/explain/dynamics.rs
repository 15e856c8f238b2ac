//! Whether the gain depends on the level: a limiter, a compressor, or clipping.

use crate::compare::pass::Block;
use crate::compare::record::Dynamics;

/// Blocks that a judgement needs.
const LEAST_BLOCKS: usize = 40;
/// A block that was turned down by more than this, in dB, was reduced.
const REDUCED_DB: f64 = 0.5;
/// Reduction, in dB, that blocks above a threshold show.
const ABOVE_DB: f64 = -0.2;
/// Share of the blocks above a threshold that show it, and of those below that do not.
const THRESHOLD_SHARE: f64 = 0.8;
/// Shares of the blocks, by level, that are loud, ordinary and quiet.
const LOUD: (f64, f64) = (0.95, 1.0);
const ORDINARY: (f64, f64) = (0.3, 0.7);
const QUIET: (f64, f64) = (0.05, 0.2);

/// Blocks of a passage.
const PASSAGE_BLOCKS: usize = 300;
/// How much less the loudest blocks get before the quiet ones count, in dB.
const LESS_DB: f64 = 0.15;

/// A block's level and gain.
#[derive(Debug, Clone, Copy)]
struct Gain {
    peak: f64,
    gain_db: f64,
    export_s: f64,
}

/// Gain of the loudest moments of a passage against that of its quieter half, in dB: the median over
/// passages of a few seconds. A gain that merely moves over time does not show in it.
pub(in crate::compare) fn within_passages_db(blocks: &[Block], counts: &[bool]) -> Option<f64> {
    let judged: Vec<(f32, f64)> = blocks
        .iter()
        .zip(counts)
        .filter(|(_, counts)| **counts)
        .filter_map(|(block, _)| Some((block.peak, block.gain_db()?)))
        .collect();
    let mut differences: Vec<f64> = judged
        .chunks(PASSAGE_BLOCKS)
        .filter(|passage| passage.len() == PASSAGE_BLOCKS)
        .filter_map(|passage| {
            let mut passage = passage.to_vec();
            passage.sort_by(|a, b| a.0.total_cmp(&b.0));
            let median = |part: &[(f32, f64)]| {
                crate::compare::median::median(
                    &mut part.iter().map(|block| block.1).collect::<Vec<f64>>(),
                )
            };
            let (half, loud) = (passage.len() / 2, passage.len() / 10);
            Some(median(&passage[passage.len() - loud..])? - median(&passage[..half])?)
        })
        .collect();
    // The passages in which most was done: many are too quiet for anything to be done.
    differences.sort_by(f64::total_cmp);
    differences.get(differences.len() / 4).copied()
}

/// Share of what differs from the prediction, at its usual gain, that a gain of every block leaves over.
pub(in crate::compare) fn gain_leaves(blocks: &[Block], counts: &[bool]) -> f64 {
    let counted =
        || blocks.iter().zip(counts).filter(|(_, counts)| **counts).map(|(block, _)| block);
    let sum = |of: &dyn Fn(&Block) -> f64| counted().map(of).sum::<f64>();
    let (zz, zy) = (sum(&|b| f64::from(b.zz)), sum(&|b| f64::from(b.zy)));
    let usual = if zz > 0.0 { zy / zz } else { 0.0 };
    let left = |block: &Block, gain: f64| {
        let [zz, zy, yy] = [block.zz, block.zy, block.yy].map(f64::from);
        (yy - 2.0 * gain * zy + gain * gain * zz).max(0.0)
    };
    let own = |block: &Block| if block.zz > 0.0 { f64::from(block.zy / block.zz) } else { 0.0 };
    let steady = sum(&|block| left(block, usual));
    if steady > 0.0 { sum(&|block| left(block, own(block))) / steady } else { 1.0 }
}

/// How many blocks were turned down, and where they stand among all by level: 0 the quietest, 1 the
/// loudest (median).
pub(in crate::compare) fn reduced_rank(
    blocks: &[Block],
    counts: &[bool],
    rate_hz: f64,
) -> Option<(usize, f64)> {
    let gains = by_level(blocks, counts, rate_hz)?;
    let base_db = median_gain(&gains);
    let mut ranks: Vec<f64> = gains
        .iter()
        .enumerate()
        .filter(|(_, gain)| gain.gain_db < base_db + ABOVE_DB)
        .map(|(rank, _)| rank as f64 / gains.len() as f64)
        .collect();
    let count = ranks.len();
    Some((count, crate::compare::median::median(&mut ranks)?))
}

/// Gain of quiet blocks against the prediction, in dB, where louder ones get less and less: what a
/// limiter or compressor leaves alone.
pub(in crate::compare) fn gain_left_alone_db(
    blocks: &[Block],
    counts: &[bool],
    rate_hz: f64,
) -> Option<f64> {
    let gains = by_level(blocks, counts, rate_hz)?;
    let [quiet, ordinary, loud] = [QUIET, ORDINARY, LOUD].map(|shares| part_db(&gains, shares));
    (loud < ordinary - LESS_DB && ordinary < quiet).then_some(quiet)
}

/// Gains of the blocks that can be judged, the quietest block first.
fn by_level(blocks: &[Block], counts: &[bool], rate_hz: f64) -> Option<Vec<Gain>> {
    let mut gains: Vec<Gain> = blocks
        .iter()
        .zip(counts)
        .filter(|(_, counts)| **counts)
        .filter_map(|(block, _)| {
            let gain_db = block.gain_db()?;
            let peak = f64::from(block.peak);
            Some(Gain { peak, gain_db, export_s: block.frame as f64 / rate_hz })
        })
        .collect();
    if gains.len() < LEAST_BLOCKS {
        return None;
    }
    gains.sort_by(|a, b| a.peak.total_cmp(&b.peak));
    Some(gains)
}

/// Median gain of a part of the blocks, in dB.
fn part_db(gains: &[Gain], (from, to): (f64, f64)) -> f64 {
    let index = |share: f64| (share * gains.len() as f64) as usize;
    median_gain(&gains[index(from)..index(to).min(gains.len())])
}

/// Judges the blocks that count; `None` where too few can be judged.
pub(in crate::compare) fn judge(
    blocks: &[Block],
    counts: &[bool],
    rate_hz: f64,
) -> Option<Dynamics> {
    let gains = by_level(blocks, counts, rate_hz)?;
    let part = |shares| part_db(&gains, shares);
    let ordinary_db = part(ORDINARY);
    let lowest = gains.iter().min_by(|a, b| a.gain_db.total_cmp(&b.gain_db))?;
    let reduced = gains.iter().filter(|gain| gain.gain_db < -REDUCED_DB).count();
    let mut sorted: Vec<f64> = gains.iter().map(|gain| gain.gain_db).collect();
    sorted.sort_by(f64::total_cmp);
    let at = |share: f64| sorted[(share * (sorted.len() - 1) as f64) as usize];
    Some(Dynamics {
        loud_gain_db: part(LOUD) - ordinary_db,
        quiet_gain_db: part(QUIET) - ordinary_db,
        most_reduction_db: (-lowest.gain_db).max(0.0),
        most_reduction_s: lowest.export_s,
        reduced_share: reduced as f64 / gains.len() as f64,
        spread_db: (at(0.95) - at(0.05)) / 2.0,
        threshold_dbfs: threshold(&gains).map(|peak| 20.0 * peak.log10()),
    })
}

fn median_gain(gains: &[Gain]) -> f64 {
    let mut values: Vec<f64> = gains.iter().map(|gain| gain.gain_db).collect();
    crate::compare::median::median(&mut values).unwrap_or(0.0)
}

/// The level that parts reduced blocks from others best, if it parts them well.
fn threshold(sorted: &[Gain]) -> Option<f64> {
    let reduced: Vec<bool> = sorted.iter().map(|gain| gain.gain_db < ABOVE_DB).collect();
    let total = reduced.iter().filter(|reduced| **reduced).count();
    let mut below = 0;
    let mut best = (0.0, None);
    for (index, gain) in sorted.iter().enumerate() {
        let above = sorted.len() - index;
        let hits = (total - below) as f64 / above as f64;
        let passes = if index == 0 { 1.0 } else { 1.0 - below as f64 / index as f64 };
        if hits >= THRESHOLD_SHARE && passes >= THRESHOLD_SHARE && hits + passes > best.0 {
            best = (hits + passes, Some(gain.peak));
        }
        below += usize::from(reduced[index]);
    }
    best.1.filter(|_| total * 100 >= sorted.len())
}
