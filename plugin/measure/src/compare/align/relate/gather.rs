//! Cross-spectra of the mix's channels with the export's, over windows spread over both files.

use realfft::num_complex::Complex64;

use crate::compare::Source;
use crate::compare::median::median;
use crate::compare::play::{Failed, Path, Player, Reel};
use crate::compare::spectra::WindowedTransform;
use crate::compare::timeline::Timeline;

/// Share of half the lower rate up to which places between samples are exact.
const EXACT_SHARE: f64 = 0.9;
/// Lowest frequency that is judged, in Hz.
const LOWEST_HZ: f64 = 20.0;
/// Windows at most; more would tell little more.
const MOST_WINDOWS: i64 = 600;
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
    /// `[export channel][i][j]` of the mix's channels as that channel hears them.
    xx: Vec<Vec<Vec<Vec<Complex64>>>>,
    /// Which of these an export channel has: channels that come together share one.
    own: Vec<usize>,
    /// `[export channel][i]`: the mix's channel, conjugate, times the export's.
    xy: Vec<Vec<Vec<Complex64>>>,
    yy: Vec<Vec<f64>>,
    /// Every window, taken or not.
    windows: Vec<Window>,
}

/// What a window says by itself: by export channel and band, prediction, cross and export.
struct Window {
    power: f64,
    bands: Vec<Vec<(f64, Complex64, f64)>>,
}

/// Goes over the windows; `kept` says which of them count.
pub(super) fn take<M: Source, X: Source>(
    mix: &mut Reel<M>,
    export: &mut Reel<X>,
    timeline: &Timeline,
    path: &Path,
    frames: usize,
    rate_hz: f64,
    kept: Option<&[bool]>,
) -> Result<Gathered, Failed<M::Error, X::Error>> {
    let channels = [path.gains.first().map_or(0, Vec::len), path.gains.len()];
    let mut delays: Vec<f64> = Vec::new();
    let own: Vec<usize> = path
        .late
        .iter()
        .map(|late| {
            delays.iter().position(|known| known == late).unwrap_or_else(|| {
                delays.push(*late);
                delays.len() - 1
            })
        })
        .collect();
    let mut transform = WindowedTransform::new(frames);
    let bins = transform.make_bins().len();
    let none = vec![Complex64::default(); bins];
    let mut gathered = Gathered {
        bin_hz: rate_hz / frames as f64,
        exact_bins: (EXACT_SHARE * timeline.step.min(1.0) * bins as f64) as usize,
        count: 0,
        xx: vec![vec![vec![none.clone(); channels[0]]; channels[0]]; delays.len()],
        own,
        xy: vec![vec![none.clone(); channels[0]]; channels[1]],
        yy: vec![vec![0.0; bins]; channels[1]],
        windows: Vec::new(),
    };
    let mut players: Vec<Player> = delays.iter().map(|_| Player::exact(timeline.step)).collect();
    let mut played = vec![vec![0.0; frames]; channels[0]];
    let mut heard = vec![0.0; frames];
    let mut xs = vec![vec![none.clone(); channels[0]]; delays.len()];
    let mut ys = vec![none; channels[1]];
    let whole = timeline.frames();
    let hop = (whole / MOST_WINDOWS).max(frames as i64 / 2);
    for segment in &timeline.segments {
        let length = segment.end - segment.start;
        let last = segment.end - frames as i64;
        // A segment shorter than a window only where there is no other.
        let short = length < frames as i64 && timeline.segments.len() == 1;
        let starts = if short { segment.start..segment.start + 1 } else { segment.start..last + 1 };
        for start in starts.step_by(hop as usize) {
            let index = gathered.windows.len();
            let count = frames.min(length as usize);
            let end = start + count as i64;
            export.show(start, end).map_err(Failed::Export)?;
            let mut power = 0.0;
            heard.resize(count, 0.0);
            for (channel, bins) in ys.iter_mut().enumerate() {
                export.copy(channel, start, &mut heard);
                power += heard.iter().map(|x| x * x).sum::<f64>() / count as f64;
                transform.take(&heard, bins);
            }
            for ((delay, player), xs) in delays.iter().zip(&mut players).zip(&mut xs) {
                let place = timeline.place(segment, start as f64) - delay;
                played.iter_mut().for_each(|channel| channel.resize(count, 0.0));
                player.play(mix, place, timeline.step, &mut played).map_err(Failed::Mix)?;
                for (channel, bins) in played.iter().zip(xs) {
                    transform.take(channel, bins);
                }
            }
            gathered.windows.push(gathered.window(&xs, &ys, &path.gains, power));
            let counts = power > SILENCE_POWER
                && kept.is_none_or(|kept| kept.get(index).copied().unwrap_or(true));
            if counts {
                gathered.add(&xs, &ys);
            }
        }
    }
    Ok(gathered)
}

impl Gathered {
    pub fn export_channels(&self) -> usize {
        self.yy.len()
    }

    pub fn mix_channels(&self) -> usize {
        self.xy.first().map_or(0, Vec::len)
    }

    pub fn bins(&self) -> usize {
        self.yy.first().map_or(0, Vec::len)
    }

    fn add(&mut self, xs: &[Vec<Vec<Complex64>>], ys: &[Vec<Complex64>]) {
        self.count += 1;
        for (xx, xs) in self.xx.iter_mut().zip(xs) {
            for (i, row) in xx.iter_mut().enumerate() {
                for (j, sums) in row.iter_mut().enumerate().skip(i) {
                    for ((sum, x), y) in sums.iter_mut().zip(&xs[i]).zip(&xs[j]) {
                        *sum += x.conj() * y;
                    }
                }
            }
        }
        for (channel, y) in ys.iter().enumerate() {
            for (sum, y) in self.yy[channel].iter_mut().zip(y) {
                *sum += y.norm_sqr();
            }
            for (sums, x) in self.xy[channel].iter_mut().zip(&xs[self.own[channel]]) {
                for ((sum, x), y) in sums.iter_mut().zip(x).zip(y) {
                    *sum += x.conj() * y;
                }
            }
        }
    }

    fn window(
        &self,
        xs: &[Vec<Vec<Complex64>>],
        ys: &[Vec<Complex64>],
        gains: &[Vec<f64>],
        power: f64,
    ) -> Window {
        let half = 10f64.powf(0.05);
        let bin = |hz: f64| ((hz / self.bin_hz).round() as usize).clamp(1, self.bins() - 1);
        let bands = ys
            .iter()
            .enumerate()
            .map(|(channel, y)| {
                let xs = &xs[self.own[channel]];
                MIDDLES
                    .map(|n| {
                        let hz = 1_000.0 * 10f64.powf(f64::from(n) / 10.0);
                        let range = bin(hz / half)..bin(hz * half);
                        let mut sums = (0.0, Complex64::default(), 0.0);
                        for bin in range {
                            let z: Complex64 =
                                xs.iter().zip(&gains[channel]).map(|(x, gain)| x[bin] * gain).sum();
                            sums.0 += z.norm_sqr();
                            sums.1 += z.conj() * y[bin];
                            sums.2 += y[bin].norm_sqr();
                        }
                        sums
                    })
                    .collect()
            })
            .collect();
        Window { power, bands }
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
        let sums = &self.xx[self.own[channel]];
        if i <= j { sums[i][j][bin] } else { sums[j][i][bin].conj() }
    }

    pub fn xy(&self, channel: usize, i: usize, bin: usize) -> Complex64 {
        self.xy[channel][i][bin]
    }

    pub fn yy(&self, channel: usize, bin: usize) -> f64 {
        self.yy[channel][bin]
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
        self.over_all(|channel, bin| self.yy[channel][bin])
    }

    /// Power of a pattern of the mix's channels, and its cross-spectrum with the export, at a bin.
    pub fn pair(&self, channel: usize, pattern: &[f64], bin: usize) -> (f64, Complex64) {
        let (mut zz, mut zy) = (0.0, Complex64::default());
        for (i, a) in pattern.iter().enumerate().filter(|(_, a)| **a != 0.0) {
            zy += self.xy[channel][i][bin] * a;
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
            let norm = zz * self.yy[channel][bin];
            if norm > 0.0 { (zy.norm_sqr() / norm).min(1.0) } else { 0.0 }
        };
        (0..self.bins()).map(of).collect()
    }

    /// Power that gains without a filter leave over.
    pub fn left_by_gains(&self, gains: &[Vec<f64>]) -> f64 {
        let of = |channel: usize, bin: usize| {
            let (zz, zy) = self.pair(channel, &gains[channel], bin);
            (self.yy[channel][bin] - 2.0 * zy.re + zz).max(0.0)
        };
        self.over_all(of)
    }

    /// Power that a filter of each pattern leaves over.
    pub fn left_by_filters(&self, patterns: &[Vec<f64>]) -> f64 {
        let of = |channel: usize, bin: usize| {
            let (zz, zy) = self.pair(channel, &patterns[channel], bin);
            let explained = if zz > 0.0 { zy.norm_sqr() / zz } else { 0.0 };
            (self.yy[channel][bin] - explained).max(0.0)
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
