//! What is left in step 4, where opposite polarities should cancel, in all and band by band.

use std::ops::Range;

use super::GAIN_RANGE_HZ;
use super::references::References;
use super::response::{Path, wide};
use super::takes::Takes;

/// Bands of a third of an octave, from this frequency on, in Hz.
const LOWEST_HZ: f64 = 20.0;
/// They end here, in Hz, or at this share of the rate.
const HIGHEST: (f64, f64) = (20_000.0, 0.44);

/// Step 4 in a range of frequencies; powers over step 1's there.
#[derive(Debug, Clone, Copy)]
pub(in crate::sum_test) struct Cancelled {
    /// The range, in Hz.
    pub range_hz: (f64, f64),
    /// What is left.
    pub left: f64,
    /// What the channels' difference in level and delay leaves.
    pub predicted: f64,
    /// What the recording's noise can be.
    pub noise: f64,
}

/// Step 4.
#[derive(Debug, Clone)]
pub(in crate::sum_test) struct Null {
    /// Over the range of gains.
    pub whole: Cancelled,
    /// By third of an octave.
    pub bands: Vec<Cancelled>,
}

/// What is left in step 4, where `relative` leads from feed 1's channel to feed 2's.
pub(super) fn null(takes: &Takes, relative: &Path, references: &References) -> Null {
    let top_hz = HIGHEST.0.min(HIGHEST.1 * references.rate_hz);
    let edge_hz = |band: i32| LOWEST_HZ * 2f64.powf(f64::from(band) / 3.0);
    let bands = (0..)
        .map(|band| (edge_hz(band), edge_hz(band + 1)))
        .take_while(|range| range.1 <= top_hz * 1.01)
        .map(|range_hz| cancelled(range_hz, takes, relative, references))
        .collect();
    Null { whole: cancelled(GAIN_RANGE_HZ, takes, relative, references), bands }
}

fn cancelled(
    range_hz: (f64, f64),
    takes: &Takes,
    relative: &Path,
    references: &References,
) -> Cancelled {
    let range: Range<usize> = references.bins(range_hz);
    let [one, two, three, four] = [0, 1, 2, 3].map(|step| &takes.heard[step]);
    let other = &takes.one[1];
    let (mut power, mut left, mut predicted, mut noise) = (0.0, 0.0, 0.0, 0.0);
    for (bin, plain) in range.clone().zip(relative.plain(range.start, references.size)) {
        // Two takes, so that noise does not count.
        let own = f64::from((other[bin].conj() * one[bin]).re);
        power += own;
        predicted += own * (1.0 - plain).norm_sqr();
        left += wide(four[bin]).norm_sqr();
        noise += (wide(three[bin]) - wide(one[bin]) - wide(two[bin])).norm_sqr();
    }
    let noise = noise.max(takes.floor * range.len() as f64);
    if power <= 0.0 {
        return Cancelled { range_hz, left: 0.0, predicted: 0.0, noise: f64::INFINITY };
    }
    Cancelled {
        range_hz,
        left: left / power,
        predicted: predicted.max(0.0) / power,
        noise: noise / power,
    }
}
