//! Which channel went where: the simplest map that, with a filter of its own for each export channel,
//! explains nearly as much as filters between all channels would.

use realfft::num_complex::Complex64;

use super::gather::Gathered;
use crate::compare::align::mapping::{Covariance, Mapping};
use crate::compare::record::ChannelMap;

/// How much more a simple map may leave over than the freest relation: as a ratio, and as a share of
/// the export's power.
const SIMPLE_RATIO: f64 = 1.4;
const SIMPLE_SHARE: f64 = 1e-6;
/// The same where a simple map explains nearly all: of channels that are nearly alike, the freest relation also
/// explains what the windows' edges do.
const NEARLY_RATIO: f64 = 4.0;
const NEARLY_SHARE: f64 = 3e-3;
/// The same for gains that no filter goes with.
const MATRIX_RATIO: f64 = 2.0;
const MATRIX_SHARE: f64 = 1e-4;
/// Share that gains leave over which are as exact as they can be.
const EXACT: f64 = 1e-6;
/// Kept from the freest fit where channels are alike, as a share of their power.
const RIDGE: f64 = 1e-7;

/// The map, and the patterns of the mix's channels that filters are of.
pub(super) struct Chosen {
    pub mapping: Mapping,
    /// By export channel, at unity.
    pub patterns: Vec<Vec<f64>>,
    /// Whether it is a map with a name.
    pub has_name: bool,
    /// Whether gains without filters explain what another map does.
    pub matrix_holds: bool,
}

pub(super) fn choose(gathered: &Gathered, before: &Mapping) -> Chosen {
    let total = gathered.heard_power();
    let free = left_by_all(gathered);
    let allowed = (SIMPLE_RATIO * free + SIMPLE_SHARE * total)
        .max((NEARLY_RATIO * free).min(NEARLY_SHARE * total));
    let covariance = covariance(gathered);
    for (map, patterns) in covariance.simple_maps() {
        if gathered.left_by_filters(&patterns) <= allowed {
            let gains = covariance.simplest(&patterns);
            let map = covariance.with_dropped(map, &gains);
            // Gains that were found to be exact stay as they are.
            let known =
                before.map == map && before.left_share < EXACT && alike(&before.gains, &gains);
            let mapping = if known {
                before.clone()
            } else {
                let left_share = covariance.left(&gains) / total;
                Mapping { map, gains, left_share }
            };
            return Chosen { mapping, patterns, has_name: true, matrix_holds: true };
        }
    }
    let gains = covariance.free();
    let left = gathered.left_by_gains(&gains);
    let matrix_holds = left <= MATRIX_RATIO * free + MATRIX_SHARE * total;
    let mapping =
        Mapping { map: ChannelMap::Other, gains: gains.clone(), left_share: left / total };
    Chosen { mapping, patterns: gains, has_name: false, matrix_holds }
}

fn alike(before: &[Vec<f64>], after: &[Vec<f64>]) -> bool {
    const NEAR: f64 = 0.05;
    let strongest = after.iter().flatten().fold(0f64, |held, gain| held.max(gain.abs()));
    before
        .iter()
        .flatten()
        .zip(after.iter().flatten())
        .all(|(before, after)| (before - after).abs() <= NEAR * strongest)
}

/// Covariances of the channels over all bins.
fn covariance(gathered: &Gathered) -> Covariance {
    let (mix, export) = (gathered.mix_channels(), gathered.export_channels());
    let bins = gathered.bins();
    let sum = |of: &dyn Fn(usize) -> f64| (1..bins).map(of).sum::<f64>();
    let xx = (0..mix)
        .map(|i| (0..mix).map(|j| sum(&|bin| gathered.xx(0, i, j, bin).re)).collect())
        .collect();
    let xy = (0..export)
        .map(|c| (0..mix).map(|i| sum(&|bin| gathered.xy(c, i, bin).re)).collect())
        .collect();
    let yy = (0..export).map(|c| sum(&|bin| gathered.yy(c, bin))).collect();
    Covariance::of(xx, xy, yy)
}

/// Power that filters from every mix channel to every export channel leave over.
fn left_by_all(gathered: &Gathered) -> f64 {
    let mix = gathered.mix_channels();
    let left = gathered.over_all(|channel, bin| {
        (gathered.yy(channel, bin) - explained(gathered, channel, bin, mix)).max(0.0)
    });
    left / gathered.free(mix)
}

/// Power that the mix's channels explain together at a bin: by elimination of one after the other.
fn explained(gathered: &Gathered, channel: usize, bin: usize, mix: usize) -> f64 {
    let mut matrix: Vec<Vec<Complex64>> =
        (0..mix).map(|i| (0..mix).map(|j| gathered.xx(channel, i, j, bin)).collect()).collect();
    let mut cross: Vec<Complex64> = (0..mix).map(|i| gathered.xy(channel, i, bin)).collect();
    let trace: f64 = (0..mix).map(|i| matrix[i][i].re).sum();
    let mut power = 0.0;
    for pivot in 0..mix {
        let own = matrix[pivot][pivot].re;
        // What is left of a channel that the others hold already is rounding.
        if own <= RIDGE * trace {
            continue;
        }
        power += cross[pivot].norm_sqr() / own;
        let (row, lead) = (matrix[pivot].clone(), cross[pivot]);
        for i in pivot + 1..mix {
            let factor = row[i].conj() / own;
            for j in pivot + 1..mix {
                let part = factor * row[j];
                matrix[i][j] -= part;
            }
            cross[i] -= factor * lead;
        }
    }
    power
}
