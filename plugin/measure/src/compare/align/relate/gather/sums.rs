//! Sums of the products of spectra: by bin over windows, and of one window by band.

use std::ops::Range;

use realfft::num_complex::Complex64;

/// Spectra of one window.
pub(super) struct Spectra {
    /// `[delay][i]`: the mix's channels as late as some export channels are.
    pub xs: Vec<Vec<Vec<Complex64>>>,
    /// Of the export's channels.
    pub ys: Vec<Vec<Complex64>>,
}

/// Sums of products by bin.
pub(super) struct Sums {
    /// Windows that went into them.
    pub count: usize,
    /// `[delay][i][j]` of the mix's channels, `j` not below `i`: elsewhere there is nothing.
    pub xx: Vec<Vec<Vec<Vec<Complex64>>>>,
    /// `[export channel][i]`: the mix's channel, conjugate, times the export's.
    pub xy: Vec<Vec<Vec<Complex64>>>,
    /// By export channel.
    pub yy: Vec<Vec<f64>>,
}

impl Sums {
    /// For the channels of mix and export, so many delays and so many bins.
    pub fn new(channels: [usize; 2], delays: usize, bins: usize) -> Self {
        let none = vec![Complex64::default(); bins];
        let row = |i: usize| {
            (0..channels[0]).map(|j| if j < i { Vec::new() } else { none.clone() }).collect()
        };
        Self {
            count: 0,
            xx: (0..delays).map(|_| (0..channels[0]).map(row).collect()).collect(),
            xy: vec![vec![none.clone(); channels[0]]; channels[1]],
            yy: vec![vec![0.0; bins]; channels[1]],
        }
    }

    /// Bytes that sums of that size take.
    pub fn bytes([mix, export]: [usize; 2], delays: usize, bins: usize) -> usize {
        let products = delays * mix * (mix + 1) / 2 + export * mix;
        bins * (products * size_of::<Complex64>() + export * size_of::<f64>())
    }

    /// Adds a window; `own` says which delay an export channel has.
    pub fn take(&mut self, Spectra { xs, ys }: &Spectra, own: &[usize]) {
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
            for (sums, x) in self.xy[channel].iter_mut().zip(&xs[own[channel]]) {
                for ((sum, x), y) in sums.iter_mut().zip(x).zip(y) {
                    *sum += x.conj() * y;
                }
            }
        }
    }

    /// Adds the sums over other windows.
    pub fn add(&mut self, other: &Self) {
        self.count += other.count;
        let parts = other.xx.iter().flatten().flatten().chain(other.xy.iter().flatten());
        let sums = self.xx.iter_mut().flatten().flatten().chain(self.xy.iter_mut().flatten());
        for (sums, parts) in sums.zip(parts) {
            sums.iter_mut().zip(parts).for_each(|(sum, part)| *sum += part);
        }
        for (sum, part) in self.yy.iter_mut().flatten().zip(other.yy.iter().flatten()) {
            *sum += part;
        }
    }
}

/// Sums of one window by band: whatever the gains, the prediction's follow from them.
pub(super) struct BandSums {
    /// Mean square of the export, all channels together.
    pub power: f64,
    /// `[delay][band]`: of the mix's channels `i` and `j`, real part, all pairs of the first, then
    /// those of the second with what follows, and so on.
    xx: Vec<Vec<Vec<f64>>>,
    /// `[export channel][band][i]`.
    xy: Vec<Vec<Vec<Complex64>>>,
    /// `[export channel][band]`.
    yy: Vec<Vec<f64>>,
}

impl BandSums {
    /// Of a window over the bins of each band.
    pub fn of(
        Spectra { xs, ys }: &Spectra,
        own: &[usize],
        bands: &[Range<usize>],
        power: f64,
    ) -> Self {
        let cross = |x: &[Complex64], y: &[Complex64]| -> Complex64 {
            x.iter().zip(y).map(|(x, y)| x.conj() * y).sum()
        };
        let pairs = |xs: &Vec<Vec<Complex64>>, band: &Range<usize>| {
            let part = |i: usize| &xs[i][band.clone()];
            let of = |i: usize| (i..xs.len()).map(move |j| (i, j));
            (0..xs.len()).flat_map(of).map(|(i, j)| cross(part(i), part(j)).re).collect()
        };
        let heard = |(y, own): (&Vec<Complex64>, &usize), band: &Range<usize>| {
            xs[*own].iter().map(|x| cross(&x[band.clone()], &y[band.clone()])).collect()
        };
        let each = |xs| bands.iter().map(|band| pairs(xs, band)).collect();
        Self {
            power,
            xx: xs.iter().map(each).collect(),
            xy: ys
                .iter()
                .zip(own)
                .map(|channel| bands.iter().map(|band| heard(channel, band)).collect())
                .collect(),
            yy: ys
                .iter()
                .map(|y| {
                    let power =
                        |band: &Range<usize>| y[band.clone()].iter().map(Complex64::norm_sqr);
                    bands.iter().map(|band| power(band).sum()).collect()
                })
                .collect(),
        }
    }

    /// By export channel and band: prediction through the channel's gains with itself, with the export,
    /// and export with itself.
    pub fn through(&self, gains: &[Vec<f64>], own: &[usize]) -> Vec<Vec<(f64, Complex64, f64)>> {
        let band = |channel: usize, band: usize| {
            let gains = &gains[channel];
            let mut zz = 0.0;
            let mut pairs = self.xx[own[channel]][band].iter();
            for (i, a) in gains.iter().enumerate() {
                for (j, b) in gains.iter().enumerate().skip(i) {
                    let times = if i == j { 1.0 } else { 2.0 };
                    zz += times * a * b * pairs.next().copied().unwrap_or(0.0);
                }
            }
            let heard = self.xy[channel][band].iter().zip(gains);
            (zz.max(0.0), heard.map(|(xy, gain)| xy * gain).sum(), self.yy[channel][band])
        };
        let channels = self.yy.iter().enumerate();
        channels.map(|(channel, yy)| (0..yy.len()).map(|n| band(channel, n)).collect()).collect()
    }
}
