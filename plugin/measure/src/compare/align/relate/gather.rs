//! Cross-spectra of the mix's channels with the export's, over windows spread over both files.

mod sums;
mod windows;

use realfft::num_complex::Complex64;

use crate::compare::median::median;
use sums::Sums;
pub(super) use windows::Windows;

/// Lowest frequency that is judged, in Hz.
const LOWEST_HZ: f64 = 20.0;
/// Mean square below which a window tells nothing: −90 dBFS.
const SILENCE_POWER: f64 = 1e-9;
/// A window that leaves over this many times the usual share, and this share at least, is something
/// else.
const FOREIGN_RATIO: f64 = 8.0;
const FOREIGN_SHARE: f64 = 0.003;
/// Mid-bands in which windows are judged, from 40 Hz to 16 kHz.
const MIDDLES: std::ops::RangeInclusive<i32> = -14..=12;
/// First of them in which a gain of every window is no matter of a few bins: 250 Hz.
const OWN_FROM: usize = 8;
/// Coherence of a band in a window whose gain counts, and windows that it takes to judge by.
const LEAST_COHERENCE: f64 = 0.5;
const LEAST_WINDOWS: usize = 12;
/// Bands in windows that it takes to say how what is left follows the sound.
const LEAST_POINTS: usize = 200;
/// Power of a band in a window against its strongest, below which it is not judged: −50 dB.
const QUIETEST: f64 = 1e-5;

/// Sums of products by bin.
pub(super) struct Gathered {
    pub bin_hz: f64,
    /// Bins up to which the mix is played exactly: what is left is judged up to there.
    exact_bins: usize,
    /// Windows that went into the sums.
    pub count: usize,
    sums: Sums,
    /// Which of the delays an export channel has: channels that come together share one.
    own: Vec<usize>,
    /// Every window, taken or not.
    windows: Vec<Window>,
}

/// What a window says by itself: by export channel and band, prediction, cross and export.
struct Window {
    power: f64,
    bands: Vec<Vec<(f64, Complex64, f64)>>,
}

impl Gathered {
    pub fn export_channels(&self) -> usize {
        self.sums.yy.len()
    }

    pub fn mix_channels(&self) -> usize {
        self.sums.xy.first().map_or(0, Vec::len)
    }

    pub fn bins(&self) -> usize {
        self.sums.yy.first().map_or(0, Vec::len)
    }

    /// Which windows are of one kind: those that leave over far more than the usual one, band by
    /// band, once each band has the filter's response, hold something else.
    pub fn steady(&self) -> Vec<bool> {
        let sounding = |window: &&Window| window.power > SILENCE_POWER;
        let channels = self.export_channels();
        let count = MIDDLES.count();
        // The response of each band, all windows together.
        let mut sums = vec![vec![(0.0, Complex64::default()); count]; channels];
        for window in self.windows.iter().filter(sounding) {
            for (sums, bands) in sums.iter_mut().zip(&window.bands) {
                for (sum, band) in sums.iter_mut().zip(bands) {
                    sum.0 += band.0;
                    sum.1 += band.1;
                }
            }
        }
        let share = |window: &Window| -> f64 {
            let (mut left, mut heard) = (0.0, 0.0);
            for (sums, bands) in sums.iter().zip(&window.bands) {
                for (sum, band) in sums.iter().zip(bands) {
                    // A gain that moves is no reason: each band has its own here, but the phase of all.
                    let turned = if sum.1.norm() > 0.0 { sum.1 / sum.1.norm() } else { continue };
                    let along = (band.1 * turned.conj()).re.max(0.0);
                    let explained = if band.0 > 0.0 { along * along / band.0 } else { 0.0 };
                    left += (band.2 - explained).max(0.0);
                    heard += band.2;
                }
            }
            if heard > 0.0 { left / heard } else { 0.0 }
        };
        let shares: Vec<f64> = self.windows.iter().map(share).collect();
        let mut usual: Vec<f64> = shares
            .iter()
            .zip(&self.windows)
            .filter(|(_, window)| sounding(window))
            .map(|(share, _)| *share)
            .collect();
        let usual = median(&mut usual).unwrap_or(0.0);
        let most = (FOREIGN_RATIO * usual).max(FOREIGN_SHARE);
        let kept: Vec<bool> = shares.iter().map(|share| *share <= most).collect();
        let count = kept.iter().filter(|kept| **kept).count();
        // Where most are foreign, none is.
        if 2 * count < kept.len() { vec![true; kept.len()] } else { kept }
    }

    /// How the gain of a band differs from window to window, in dB: half the range that holds the
    /// middle two thirds, and that of its quiet windows against its loud ones. `None` where too few
    /// windows tell.
    pub fn over_windows(&self, channel: usize, hz: f64) -> Option<(f64, f64)> {
        let band = (10.0 * (hz / 1_000.0).log10()).round() as i32 - MIDDLES.start();
        let band = usize::try_from(band).ok().filter(|band| *band < MIDDLES.count())?;
        let strongest =
            self.windows.iter().map(|window| window.bands[channel][band].0).fold(0.0, f64::max);
        let mut gains: Vec<(f64, f64)> = self
            .windows
            .iter()
            .map(|window| window.bands[channel][band])
            .filter(|(zz, zy, yy)| {
                *zz > QUIETEST * strongest && zy.norm_sqr() > LEAST_COHERENCE * zz * yy
            })
            .map(|(zz, zy, _)| (zz, 20.0 * (zy.norm() / zz).log10()))
            .collect();
        if gains.len() < LEAST_WINDOWS {
            return None;
        }
        gains.sort_by(|a, b| a.0.total_cmp(&b.0));
        let third = gains.len() / 3;
        let middle = |part: &[(f64, f64)]| {
            median(&mut part.iter().map(|gain| gain.1).collect::<Vec<f64>>()).unwrap_or(0.0)
        };
        let quiet_db = middle(&gains[..third]) - middle(&gains[gains.len() - third..]);
        let mut levels: Vec<f64> = gains.iter().map(|gain| gain.1).collect();
        levels.sort_by(f64::total_cmp);
        let at = |share: f64| levels[(share * (levels.len() - 1) as f64).round() as usize];
        Some(((at(5.0 / 6.0) - at(1.0 / 6.0)) / 2.0, quiet_db))
    }

    /// `[i][j]` of the mix's channels as an export channel hears them, at a bin.
    pub fn xx(&self, channel: usize, i: usize, j: usize, bin: usize) -> Complex64 {
        let sums = &self.sums.xx[self.own[channel]];
        if i <= j { sums[i][j][bin] } else { sums[j][i][bin].conj() }
    }

    pub fn xy(&self, channel: usize, i: usize, bin: usize) -> Complex64 {
        self.sums.xy[channel][i][bin]
    }

    pub fn yy(&self, channel: usize, bin: usize) -> f64 {
        self.sums.yy[channel][bin]
    }

    /// Share of what a steady gain of each band leaves over that is left by one of every window.
    pub fn own_gain_left(&self) -> f64 {
        let (mut own, mut steady) = (0.0, 0.0);
        for channel in 0..self.export_channels() {
            for band in OWN_FROM..MIDDLES.count() {
                let (mut zz, mut zy, mut yy) = (0.0, Complex64::default(), 0.0);
                for window in &self.windows {
                    let sums = window.bands[channel][band];
                    zz += sums.0;
                    zy += sums.1;
                    yy += sums.2;
                    if sums.0 > 0.0 {
                        own += (sums.2 - sums.1.norm_sqr() / sums.0).max(0.0);
                    }
                }
                if zz > 0.0 {
                    steady += (yy - zy.norm_sqr() / zz).max(0.0);
                }
            }
        }
        if steady > 0.0 { own / steady } else { 1.0 }
    }

    /// How what a steady gain of each band leaves over follows the sound of the same band and moment:
    /// correlation, and by how many dB for each of the sound's. What bands have in common at a moment
    /// counts as little as what moments have in common in a band. `None` where too little sounds.
    pub fn left_follows(&self) -> Option<(f64, f64)> {
        let mut points: Vec<(usize, usize, f64, f64)> = Vec::new();
        let count = MIDDLES.count();
        for channel in 0..self.export_channels() {
            for band in OWN_FROM..count {
                let all = || self.windows.iter().map(|window| window.bands[channel][band]);
                let strongest = all().map(|sums| sums.0).fold(0.0, f64::max);
                let zz: f64 = all().map(|sums| sums.0).sum();
                let zy: Complex64 = all().map(|sums| sums.1).sum();
                if zz <= 0.0 {
                    continue;
                }
                let gain = zy / zz;
                for (window, (zz, zy, yy)) in all().enumerate() {
                    let left = yy - 2.0 * (gain.conj() * zy).re + gain.norm_sqr() * zz;
                    if zz > QUIETEST * strongest && left > 0.0 {
                        let db = [zz, left].map(|power| 10.0 * power.log10());
                        points.push((channel * count + band, window, db[0], db[1]));
                    }
                }
            }
        }
        if points.len() < LEAST_POINTS {
            return None;
        }
        let rows = self.export_channels() * count;
        // The means of bands, then those of moments.
        for by_band in [true, false, true] {
            let places = if by_band { rows } else { self.windows.len() };
            let mut means = vec![(0.0, 0.0, 0.0); places];
            let place = |point: &(usize, usize, f64, f64)| if by_band { point.0 } else { point.1 };
            for point in &points {
                let mean = &mut means[place(point)];
                *mean = (mean.0 + 1.0, mean.1 + point.2, mean.2 + point.3);
            }
            for point in &mut points {
                let (n, sound, left) = means[place(point)];
                (point.2, point.3) = (point.2 - sound / n, point.3 - left / n);
            }
        }
        let sum = |of: fn(&(usize, usize, f64, f64)) -> f64| points.iter().map(of).sum::<f64>();
        let (xx, yy, xy) = (sum(|p| p.2 * p.2), sum(|p| p.3 * p.3), sum(|p| p.2 * p.3));
        (xx > 0.0 && yy > 0.0).then(|| (xy / (xx * yy).sqrt(), xy / xx))
    }

    /// Mean square of each channel of the mix.
    pub fn mix_powers(&self) -> Vec<f64> {
        let power = |i: usize| (0..self.bins()).map(|bin| self.xx(0, i, i, bin).re).sum::<f64>();
        (0..self.mix_channels()).map(|i| power(i) / self.count.max(1) as f64).collect()
    }

    /// Power of the export, all channels.
    pub fn heard_power(&self) -> f64 {
        self.over_all(|channel, bin| self.sums.yy[channel][bin])
    }

    /// Power of a pattern of the mix's channels, and its cross-spectrum with the export, at a bin.
    pub fn pair(&self, channel: usize, pattern: &[f64], bin: usize) -> (f64, Complex64) {
        let (mut zz, mut zy) = (0.0, Complex64::default());
        for (i, a) in pattern.iter().enumerate().filter(|(_, a)| **a != 0.0) {
            zy += self.sums.xy[channel][i][bin] * a;
            for (j, b) in pattern.iter().enumerate().filter(|(_, b)| **b != 0.0) {
                zz += a * b * self.xx(channel, i, j, bin).re;
            }
        }
        (zz, zy)
    }

    /// The response from a pattern to an export channel, by bin.
    pub fn response(&self, channel: usize, pattern: &[f64]) -> Vec<Complex64> {
        let of = |bin: usize| {
            let (zz, zy) = self.pair(channel, pattern, bin);
            if zz > 0.0 { zy / zz } else { Complex64::default() }
        };
        (0..self.bins()).map(of).collect()
    }

    /// Coherence of a pattern with an export channel, by bin.
    pub fn coherence(&self, channel: usize, pattern: &[f64]) -> Vec<f64> {
        let of = |bin: usize| {
            let (zz, zy) = self.pair(channel, pattern, bin);
            let norm = zz * self.sums.yy[channel][bin];
            if norm > 0.0 { (zy.norm_sqr() / norm).min(1.0) } else { 0.0 }
        };
        (0..self.bins()).map(of).collect()
    }

    /// Power that gains without a filter leave over.
    pub fn left_by_gains(&self, gains: &[Vec<f64>]) -> f64 {
        let of = |channel: usize, bin: usize| {
            let (zz, zy) = self.pair(channel, &gains[channel], bin);
            (self.sums.yy[channel][bin] - 2.0 * zy.re + zz).max(0.0)
        };
        self.over_all(of)
    }

    /// Power that a filter of each pattern leaves over.
    pub fn left_by_filters(&self, patterns: &[Vec<f64>]) -> f64 {
        let of = |channel: usize, bin: usize| {
            let (zz, zy) = self.pair(channel, &patterns[channel], bin);
            let explained = if zz > 0.0 { zy.norm_sqr() / zz } else { 0.0 };
            (self.sums.yy[channel][bin] - explained).max(0.0)
        };
        // A filter is found for noise as well: by a window's share, overlap leaving half of them.
        self.over_all(of) / self.free(1)
    }

    /// What is left of noise by the fit of `parameters` in every bin.
    pub fn free(&self, parameters: usize) -> f64 {
        1.0 - (1.5 * parameters as f64 / self.count.max(1) as f64).min(0.5)
    }

    pub fn over_all(&self, of: impl Fn(usize, usize) -> f64) -> f64 {
        let bins = self.exact_bins;
        // DC and what moves nearly as slowly is no sound.
        let first = (LOWEST_HZ / self.bin_hz).ceil() as usize;
        (0..self.export_channels())
            .map(|c| (first.min(bins)..bins).map(|bin| of(c, bin)).sum::<f64>())
            .sum()
    }
}
