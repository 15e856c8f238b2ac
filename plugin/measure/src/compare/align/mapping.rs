//! Which channel went where, and at what gain: least squares over the covariances of aligned
//! windows, and the simplest map that explains the export as well as the freest one does.

use std::ops::Range;

use realfft::num_complex::Complex64;

use crate::compare::record::{ChannelMap, Polarity};

/// How much more a simple map may leave over than the freest one: as a ratio, and as a share of the
/// export's power.
const SIMPLE_RATIO: f64 = 1.05;
const SIMPLE_SHARE: f64 = 1e-6;
/// How much more one gain for all channels may leave over than one for each.
const COMMON_RATIO: f64 = 1.1;
const COMMON_SHARE: f64 = 1e-12;
/// Gains of windows that spread by more than this, as a ratio, move.
const MOVES: f64 = 0.005;
/// A gain this far below the largest is none: −60 dB.
const NO_GAIN: f64 = 1e-3;
/// A channel with less than this share of the power is silent.
const SILENT_SHARE: f64 = 1e-10;
/// Kept from the freest fit where channels are alike, as a share of their mean power.
const RIDGE: f64 = 1e-9;

/// Sums of products of channels.
#[derive(Debug, Clone)]
pub(in crate::compare) struct Covariance {
    /// `[i][j]` of the mix's channels.
    xx: Vec<Vec<f64>>,
    /// `[j][i]`: export channel `j` with mix channel `i`.
    xy: Vec<Vec<f64>>,
    /// Of the export's channels with themselves.
    yy: Vec<f64>,
}

/// A map of channels.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::compare) struct Mapping {
    pub map: ChannelMap,
    /// `[export channel][mix channel]`, linear and signed.
    pub gains: Vec<Vec<f64>>,
    /// The share of each export channel's power that it leaves over, all together.
    pub left_share: f64,
}

impl Covariance {
    pub fn new(channels: [usize; 2]) -> Self {
        let [mix, export] = channels;
        Self {
            xx: vec![vec![0.0; mix]; mix],
            xy: vec![vec![0.0; mix]; export],
            yy: vec![0.0; export],
        }
    }

    /// Of sums that are known.
    pub fn of(xx: Vec<Vec<f64>>, xy: Vec<Vec<f64>>, yy: Vec<f64>) -> Self {
        Self { xx, xy, yy }
    }

    pub fn add(&mut self, part: &Self) {
        let add = |sums: &mut Vec<Vec<f64>>, parts: &Vec<Vec<f64>>| {
            for (sum, part) in sums.iter_mut().flatten().zip(parts.iter().flatten()) {
                *sum += part;
            }
        };
        add(&mut self.xx, &part.xx);
        add(&mut self.xy, &part.xy);
        for (sum, part) in self.yy.iter_mut().zip(&part.yy) {
            *sum += part;
        }
    }

    /// Of windows, each with the gain at which its export plays. Where the gains spread, as a limiter's do,
    /// each window is taken at its own: what they have in common is the map.
    pub fn of_windows(channels: [usize; 2], windows: Vec<(f64, Self)>) -> Self {
        let mut gains: Vec<f64> = windows.iter().map(|(gain, _)| *gain).collect();
        gains.sort_by(f64::total_cmp);
        let at = |share: f64| gains.get((share * gains.len() as f64) as usize).copied();
        let (usual, spread) = match (at(0.1), at(0.5), at(0.9)) {
            (Some(low), Some(middle), Some(high)) if middle != 0.0 => {
                (middle, (high - low) / middle)
            }
            _ => (1.0, 0.0),
        };
        let mut sum = Self::new(channels);
        for (gain, mut window) in windows {
            let own = gain / usual;
            if spread.abs() > MOVES && own > 0.0 {
                window.xx.iter_mut().flatten().for_each(|x| *x *= own * own);
                window.xy.iter_mut().flatten().for_each(|x| *x *= own);
            }
            sum.add(&window);
        }
        sum
    }

    /// Adds a window's spectra over some bins: that of an export channel, and those of the mix's
    /// channels as that one hears them.
    pub fn add_spectra(
        &mut self,
        mix: &[Vec<Complex64>],
        heard: &[Complex64],
        channel: usize,
        bins: Range<usize>,
    ) {
        let dot = |x: &[Complex64], y: &[Complex64]| -> f64 {
            x[bins.clone()].iter().zip(&y[bins.clone()]).map(|(x, y)| (x.conj() * y).re).sum()
        };
        self.yy[channel] += dot(heard, heard);
        for (sum, x) in self.xy[channel].iter_mut().zip(mix) {
            *sum += dot(heard, x);
        }
        // The mix with itself is the same at any place, or nearly.
        if channel == 0 {
            for (row, x) in self.xx.iter_mut().zip(mix) {
                for (sum, y) in row.iter_mut().zip(mix) {
                    *sum += dot(x, y);
                }
            }
        }
    }

    /// The simplest map that explains the export; `None` where either file is silent.
    pub fn map(&self) -> Option<Mapping> {
        let total: f64 = self.yy.iter().sum();
        let mix_total: f64 = (0..self.xx.len()).map(|i| self.xx[i][i]).sum();
        if total <= 0.0 || mix_total <= 0.0 {
            return None;
        }
        let free = self.free();
        let free_left = self.left(&free) / total;
        let allowed = SIMPLE_RATIO * free_left.max(0.0) + SIMPLE_SHARE;
        for (map, patterns) in self.simple_maps() {
            if self.left(&self.scaled(&patterns)) / total <= allowed {
                let gains = self.simplest(&patterns);
                let left_share = self.left(&gains) / total;
                let map = self.with_dropped(map, &gains);
                return Some(Mapping { map, gains, left_share });
            }
        }
        Some(Mapping { map: ChannelMap::Other, gains: free, left_share: free_left })
    }

    /// Maps that have a name, by what each export channel is made of.
    pub fn simple_maps(&self) -> Vec<(ChannelMap, Vec<Vec<f64>>)> {
        let (mix, export) = (self.xx.len(), self.yy.len());
        let only = |i: usize| {
            let mut pattern = vec![0.0; mix];
            pattern[i] = 1.0;
            pattern
        };
        let fold = vec![1.0 / mix as f64; mix];
        let mut maps = Vec::new();
        if mix == export {
            maps.push((ChannelMap::Same, (0..mix).map(only).collect()));
        }
        if mix == 1 && export > 1 {
            maps.push((ChannelMap::Same, vec![only(0); export]));
        }
        if mix == 2 && export == 2 {
            maps.push((ChannelMap::Swapped, vec![only(1), only(0)]));
        }
        if mix == 2 {
            maps.push((ChannelMap::LeftOnly, vec![only(0); export]));
            maps.push((ChannelMap::RightOnly, vec![only(1); export]));
        }
        if mix > 1 {
            maps.push((ChannelMap::MonoFold, vec![fold; export]));
        }
        maps
    }

    /// Where a named map leaves one side of a stereo export silent, the other side is all there is.
    pub fn with_dropped(&self, map: ChannelMap, gains: &[Vec<f64>]) -> ChannelMap {
        let total: f64 = self.yy.iter().sum();
        let [first, second] = self.yy[..] else { return map };
        let mix_silent =
            |i: usize| self.xx.get(i).is_some_and(|row| row[i] <= SILENT_SHARE * total);
        let silent = [first, second].map(|power| power <= SILENT_SHARE * total);
        // Which mix channels are left.
        let used = |i: usize| gains.iter().any(|row| row.get(i).is_some_and(|g| g.abs() > 0.0));
        match (silent, self.xx.len()) {
            ([true, false] | [false, true], 2) if used(0) || used(1) => {
                let kept = usize::from(silent[0]);
                let row = &gains[kept];
                let left_missing = row[0].abs() <= NO_GAIN * row[1].abs();
                let right_missing = row[1].abs() <= NO_GAIN * row[0].abs();
                match (left_missing, right_missing) {
                    (true, _) if !mix_silent(0) => ChannelMap::RightOnly,
                    (_, true) if !mix_silent(1) => ChannelMap::LeftOnly,
                    _ => map,
                }
            }
            ([false, true], 1) => ChannelMap::LeftOnly,
            ([true, false], 1) => ChannelMap::RightOnly,
            _ => map,
        }
    }

    /// Each pattern at the gain that explains most.
    pub fn scaled(&self, patterns: &[Vec<f64>]) -> Vec<Vec<f64>> {
        let scale = |(pattern, xy): (&Vec<f64>, &Vec<f64>)| -> Vec<f64> {
            let power = self.power(pattern);
            let gain = if power > 0.0 { dot(pattern, xy) / power } else { 0.0 };
            pattern.iter().map(|part| part * gain).collect()
        };
        patterns.iter().zip(&self.xy).map(scale).collect()
    }

    /// The same at one gain for all, each channel's polarity kept, where that explains nearly as much:
    /// where the gain moves, each channel's own would be told by what it happens to hold.
    pub fn simplest(&self, patterns: &[Vec<f64>]) -> Vec<Vec<f64>> {
        let own = self.scaled(patterns);
        let (mut shared, mut power) = (0.0, 0.0);
        for (pattern, xy) in patterns.iter().zip(&self.xy) {
            shared += dot(pattern, xy).abs();
            power += self.power(pattern);
        }
        if power <= 0.0 {
            return own;
        }
        let gain = shared / power;
        let common: Vec<Vec<f64>> = patterns
            .iter()
            .zip(&self.xy)
            .map(|(pattern, xy)| {
                let sign = dot(pattern, xy).signum();
                pattern.iter().map(|part| part * sign * gain).collect()
            })
            .collect();
        let total: f64 = self.yy.iter().sum();
        let is_silent = self.yy.iter().any(|power| *power <= SILENT_SHARE * total);
        let allowed = COMMON_RATIO * self.left(&own) + COMMON_SHARE * total;
        if !is_silent && self.left(&common) <= allowed { common } else { own }
    }

    fn power(&self, row: &[f64]) -> f64 {
        row.iter().zip(&self.xx).map(|(gain, xx)| gain * dot(row, xx)).sum()
    }

    /// Power that gains leave over.
    pub fn left(&self, gains: &[Vec<f64>]) -> f64 {
        let rows = gains.iter().zip(&self.xy).zip(&self.yy);
        rows.map(|((row, xy), yy)| (yy - 2.0 * dot(row, xy) + self.power(row)).max(0.0)).sum()
    }

    /// Least squares without any restriction.
    pub fn free(&self) -> Vec<Vec<f64>> {
        let count = self.xx.len();
        let mean: f64 = (0..count).map(|i| self.xx[i][i]).sum::<f64>() / count as f64;
        let mut matrix = self.xx.clone();
        for (i, row) in matrix.iter_mut().enumerate() {
            row[i] += RIDGE * mean;
        }
        let mut rows: Vec<Vec<f64>> = self.xy.iter().map(|xy| solve(&matrix, xy)).collect();
        let largest = rows.iter().flatten().fold(0f64, |held, gain| held.max(gain.abs()));
        for gain in rows.iter_mut().flatten() {
            if gain.abs() < NO_GAIN * largest {
                *gain = 0.0;
            }
        }
        rows
    }
}

impl Mapping {
    /// Makes every gain larger by a factor.
    pub fn scale(&mut self, factor: f64) {
        self.gains.iter_mut().flatten().for_each(|gain| *gain *= factor);
    }

    /// The same map at unity: what filters are of.
    pub fn pattern(&self) -> Vec<Vec<f64>> {
        let unity = |row: &Vec<f64>| {
            let parts = row.iter().filter(|gain| **gain != 0.0).count().max(1) as f64;
            row.iter().map(|gain| if *gain == 0.0 { 0.0 } else { 1.0 / parts }).collect()
        };
        if self.map == ChannelMap::Other {
            return self.gains.clone();
        }
        self.gains.iter().map(unity).collect()
    }

    /// The gain of each export channel: that of the average in a fold, of the only channel in a
    /// simple map, of the strongest in another.
    pub fn row_gains(&self) -> Vec<f64> {
        let strongest = |row: &Vec<f64>| {
            row.iter().copied().fold(0f64, |held, g| if g.abs() > held.abs() { g } else { held })
        };
        let sum = |row: &Vec<f64>| row.iter().sum();
        let of_row = |row: &Vec<f64>| {
            if self.map == ChannelMap::MonoFold { sum(row) } else { strongest(row) }
        };
        self.gains.iter().map(of_row).collect()
    }

    /// The gain of the whole, in dB: that of the loudest export channel.
    pub fn gain_db(&self) -> Option<f64> {
        let loudest = self.row_gains().iter().fold(0f64, |held, gain| held.max(gain.abs()));
        (loudest > 0.0).then(|| 20.0 * loudest.log10())
    }

    pub fn polarity(&self) -> Polarity {
        let gains: Vec<f64> = self.row_gains().into_iter().filter(|gain| *gain != 0.0).collect();
        match (gains.iter().any(|gain| *gain > 0.0), gains.iter().any(|gain| *gain < 0.0)) {
            (true, true) => Polarity::Mixed,
            (false, true) => Polarity::Inverted,
            _ => Polarity::Same,
        }
    }
}

fn dot(x: &[f64], y: &[f64]) -> f64 {
    x.iter().zip(y).map(|(x, y)| x * y).sum()
}

/// Solves a small symmetric system by elimination with pivots.
fn solve(matrix: &[Vec<f64>], right: &[f64]) -> Vec<f64> {
    let count = right.len();
    let mut rows: Vec<Vec<f64>> = matrix
        .iter()
        .zip(right)
        .map(|(row, right)| row.iter().copied().chain([*right]).collect())
        .collect();
    for column in 0..count {
        let pivot = (column..count)
            .max_by(|&a, &b| rows[a][column].abs().total_cmp(&rows[b][column].abs()))
            .unwrap_or(column);
        rows.swap(column, pivot);
        let lead = rows[column].clone();
        if lead[column] == 0.0 {
            continue;
        }
        for (index, row) in rows.iter_mut().enumerate() {
            if index != column {
                let factor = row[column] / lead[column];
                row.iter_mut().zip(&lead).for_each(|(x, lead)| *x -= factor * lead);
            }
        }
    }
    (0..count).map(|i| if rows[i][i] == 0.0 { 0.0 } else { rows[i][count] / rows[i][i] }).collect()
}
