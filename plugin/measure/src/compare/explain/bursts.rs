//! Moments in which something else is heard than the mix, be it filtered and at another gain.

use crate::compare::median::median;
use crate::compare::pass::Block;

/// Blocks that are judged together.
const WINDOW: usize = 5;
/// Incoherent share of a moment: at least, and against the usual one.
const LEAST_SHARE: f64 = 0.004;
const SHARE_RATIO: f64 = 15.0;
/// Usual share from which there is noise all the time, and what a moment has to have then.
const NOISY: f64 = 1e-5;
const NOISY_SHARE: f64 = 0.1;
/// Usual share above which no moment says anything.
const NOISIEST: f64 = 1e-3;
/// What is left in a moment against what is left at most times (90 of 100), as powers.
const STANDS_OUT: f64 = 10.0;
/// Mean square of what is left, below which nobody hears it: −75 dBFS.
const LEAST_POWER: f64 = 3e-8;
/// How far what is left in a burst may go with the prediction, as a share of its own power: what was added
/// does not know the mix, and what a gate or a filter takes away is the mix.
const OWN_WAY: f64 = 0.35;
/// Bursts closer than this, in seconds, are one.
const JOIN_S: f64 = 0.35;
/// Share of the file that bursts may fill; more is no moment any more.
const MOST_SHARE: f64 = 0.4;
const MOST_BURSTS: usize = 100;

/// A moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::compare) struct Burst {
    /// First frame of the export, and the one past its last.
    pub start: i64,
    pub end: i64,
    /// What is left in it, against the prediction, as a ratio of powers.
    pub share: f64,
    /// Whether what differs has nothing to do with the prediction, as what is added has not.
    pub goes_its_own_way: bool,
}

pub(super) fn find(blocks: &[Block], rate_hz: f64) -> Vec<Burst> {
    if blocks.len() < 4 * WINDOW {
        return Vec::new();
    }
    let sums: Vec<[f64; 4]> = blocks
        .windows(WINDOW)
        .map(|window| {
            window.iter().fold([0.0; 4], |mut sums, block| {
                let parts = [block.zz, block.zy, block.yy];
                for (sum, part) in sums.iter_mut().zip(parts) {
                    *sum += f64::from(part);
                }
                sums[3] += f64::from(block.frames);
                sums
            })
        })
        .collect();
    // In the band, with the best gain of the moment taken out.
    let left = |sums: &[f64; 4]| {
        let explained = if sums[0] > 0.0 { sums[1].max(0.0).powi(2) / sums[0] } else { 0.0 };
        (sums[2] - explained).max(0.0) / sums[3].max(1.0)
    };
    let share = |sums: &[f64; 4]| {
        let heard = sums[2] / sums[3].max(1.0);
        if heard > 0.0 { left(sums) / heard } else { 0.0 }
    };
    let at = |values: &mut Vec<f64>, place: f64| {
        values.sort_by(f64::total_cmp);
        values[(place * (values.len() - 1) as f64) as usize]
    };
    let usual = at(&mut sums.iter().map(share).collect(), 0.5);
    let high = at(&mut sums.iter().map(left).collect(), 0.9);
    // Where there is noise all the time, as of coding, it comes and goes.
    if usual > NOISIEST {
        return Vec::new();
    }
    let least = if usual > NOISY { NOISY_SHARE } else { LEAST_SHARE }.max(SHARE_RATIO * usual);
    let out: Vec<bool> = sums
        .iter()
        .map(|sums| {
            let left = left(sums);
            share(sums) > least && left > (STANDS_OUT * high).max(LEAST_POWER)
        })
        .collect();
    let count = out.iter().filter(|out| **out).count();
    if count as f64 > MOST_SHARE * out.len() as f64 {
        return Vec::new();
    }
    let mut gains: Vec<f64> =
        sums.iter().filter(|sums| sums[0] > 0.0).map(|sums| sums[1] / sums[0]).collect();
    let gain = median(&mut gains).unwrap_or(1.0);
    let mut bursts: Vec<Burst> = Vec::new();
    for (n, _) in out.iter().enumerate().filter(|(_, out)| **out) {
        // The block within the window that differs most stands for it.
        let own = &blocks[n..n + WINDOW];
        let power = |block: &Block| {
            let [zz, zy, yy] = [block.zz, block.zy, block.yy].map(f64::from);
            yy - if zz > 0.0 { zy.max(0.0).powi(2) / zz } else { 0.0 }
        };
        let Some(block) = own.iter().max_by(|a, b| power(a).total_cmp(&power(b))) else { continue };
        let (start, end) = (block.frame, block.frame + i64::from(block.frames));
        let share = share(&sums[n]);
        if let Some(last) = bursts.last_mut()
            && (start - last.end) as f64 <= JOIN_S * rate_hz
        {
            last.end = last.end.max(end);
            last.share = last.share.max(share);
        } else if bursts.len() < MOST_BURSTS {
            bursts.push(Burst { start, end, share, goes_its_own_way: false });
        }
    }
    for burst in &mut bursts {
        burst.goes_its_own_way = goes_its_own_way(blocks, burst, gain);
    }
    bursts
}

/// Whether what a gain leaves over in a burst has nothing to do with the prediction.
fn goes_its_own_way(blocks: &[Block], burst: &Burst, gain: f64) -> bool {
    let within = |block: &&Block| (burst.start..burst.end).contains(&block.frame);
    let (mut left, mut along) = (0.0, 0.0);
    for block in blocks.iter().filter(within) {
        let [zz, zy, yy] = [block.zz, block.zy, block.yy].map(f64::from);
        left += yy - 2.0 * gain * zy + gain * gain * zz;
        along += gain * zy - gain * gain * zz;
    }
    along.abs() <= OWN_WAY * left
}
