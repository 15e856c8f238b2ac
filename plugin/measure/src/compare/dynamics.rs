//! Whether the gain depends on the level: a limiter, a compressor, or clipping.

use super::pass::Block;
use super::record::Dynamics;

/// Mean square in the band below which a block's gain is not judged: −66 dBFS.
const LEAST_POWER: f64 = 2.5e-7;
/// Coherence of a block whose gain can be judged.
const LEAST_COHERENCE: f64 = 0.8;
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

/// A block's level and gain.
#[derive(Debug, Clone, Copy)]
struct Gain {
    peak: f64,
    gain_db: f64,
    export_s: f64,
}

/// Judges the blocks that count; `None` where too few can be judged.
pub(super) fn judge(blocks: &[Block], counts: &[bool], rate_hz: f64) -> Option<Dynamics> {
    let mut gains: Vec<Gain> = blocks
        .iter()
        .zip(counts)
        .filter(|(_, counts)| **counts)
        .filter_map(|(block, _)| {
            let gain_db = gain_db(block)?;
            let peak = f64::from(block.peak);
            Some(Gain { peak, gain_db, export_s: block.frame as f64 / rate_hz })
        })
        .collect();
    if gains.len() < LEAST_BLOCKS {
        return None;
    }
    gains.sort_by(|a, b| a.peak.total_cmp(&b.peak));
    let part = |(from, to): (f64, f64)| {
        let index = |share: f64| (share * gains.len() as f64) as usize;
        median_gain(&gains[index(from)..index(to).min(gains.len())])
    };
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

/// Gain of a block against the prediction, in dB; `None` where it cannot be told.
pub(super) fn gain_db(block: &Block) -> Option<f64> {
    let [zz, zy, yy] = [block.zz, block.zy, block.yy].map(f64::from);
    let judged = zz > LEAST_POWER * f64::from(block.frames)
        && zy > 0.0
        && zy * zy >= LEAST_COHERENCE * zz * yy;
    judged.then(|| 20.0 * (zy / zz).log10())
}

fn median_gain(gains: &[Gain]) -> f64 {
    let mut values: Vec<f64> = gains.iter().map(|gain| gain.gain_db).collect();
    super::fit::median(&mut values).unwrap_or(0.0)
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
