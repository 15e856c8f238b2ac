//! Whether what is left over is the sound of a moment ago, as reverberation and echoes are: the
//! residual's cross-spectra with predictions some windows before, against those with predictions as
//! many windows behind, which only chance and sustained notes explain.

use realfft::num_complex::Complex64;

/// How many half windows apart, so that windows do not overlap.
const APART: [usize; 3] = [2, 3, 5];
/// Half windows kept.
const KEPT: usize = 6;
/// Windows that it takes to tell.
const LEAST_WINDOWS: f64 = 30.0;
/// Mid-bands that are judged, each for itself: third-octaves from 125 Hz to 8 kHz.
const MIDDLES: std::ops::RangeInclusive<i32> = -9..=9;
/// Share of all that is left, below which a band says nothing.
const LEAST_SHARE: f64 = 1e-5;
/// Bands that it takes.
const LEAST_BANDS: usize = 5;

/// Sums by channel.
pub(super) struct Lingering {
    channels: Vec<Channel>,
    windows: f64,
}

struct Channel {
    /// Predictions and residuals of the last windows, the latest at `latest`.
    predicted: Vec<Vec<Complex64>>,
    left: Vec<Vec<Complex64>>,
    held: usize,
    latest: usize,
    /// By bin up to the end of the highest band. By distance: residual with the prediction before it, and with the one behind it.
    before: [Vec<Complex64>; APART.len()],
    behind: [Vec<Complex64>; APART.len()],
    zz: Vec<f64>,
    /// By bin, all of them.
    rr: Vec<f64>,
}

impl Lingering {
    /// For spectra of so many bins.
    pub fn new(channels: usize, bins: usize, bin_hz: f64) -> Self {
        let judged = MIDDLES.map(|n| bins_of(n, bin_hz).end).max().unwrap_or(0).min(bins);
        let none = vec![Complex64::default(); judged];
        let channel = || Channel {
            predicted: vec![none.clone(); KEPT],
            left: vec![none.clone(); KEPT],
            held: 0,
            latest: 0,
            before: [(); APART.len()].map(|()| none.clone()),
            behind: [(); APART.len()].map(|()| none.clone()),
            zz: vec![0.0; judged],
            rr: vec![0.0; bins],
        };
        Self { channels: (0..channels).map(|_| channel()).collect(), windows: 0.0 }
    }

    /// Takes a channel's window.
    pub fn take(&mut self, channel: usize, heard: &[Complex64], filtered: &[Complex64]) {
        let channel = &mut self.channels[channel];
        channel.latest = (channel.latest + 1) % KEPT;
        let latest = channel.latest;
        let judged = channel.zz.len();
        channel.predicted[latest].copy_from_slice(&filtered[..judged]);
        for (left, (y, f)) in channel.left[latest].iter_mut().zip(heard.iter().zip(filtered)) {
            *left = y - f;
        }
        channel.held += 1;
        if channel.held < KEPT {
            return;
        }
        for (n, apart) in APART.into_iter().enumerate() {
            let ago = (latest + KEPT - apart) % KEPT;
            let pairs = [
                (&mut channel.before[n], &channel.predicted[ago], &channel.left[latest]),
                (&mut channel.behind[n], &channel.predicted[latest], &channel.left[ago]),
            ];
            for (sums, predicted, left) in pairs {
                for ((sum, z), r) in sums.iter_mut().zip(predicted).zip(left) {
                    *sum += z.conj() * r;
                }
            }
        }
        for (zz, z) in channel.zz.iter_mut().zip(filtered) {
            *zz += z.norm_sqr();
        }
        for (rr, (y, f)) in channel.rr.iter_mut().zip(heard.iter().zip(filtered)) {
            *rr += (y - f).norm_sqr();
        }
    }

    /// All channels have had their window.
    pub fn next(&mut self) {
        if self.channels.first().is_some_and(|channel| channel.held >= KEPT) {
            self.windows += 1.0;
        }
    }

    /// What follows does not continue what was.
    pub fn forget(&mut self) {
        self.channels.iter_mut().for_each(|channel| channel.held = 0);
    }

    /// Share of the residual that the sound of a moment ago explains: the middle of the bands.
    pub fn share(&self, bin_hz: f64) -> f64 {
        if self.windows < LEAST_WINDOWS {
            return 0.0;
        }
        let all: f64 = self.channels.iter().flat_map(|channel| &channel.rr).sum();
        let mut shares: Vec<f64> = MIDDLES
            .filter_map(|n| {
                let bins = bins_of(n, bin_hz);
                let (mut explained, mut left) = (0.0, 0.0);
                for channel in &self.channels {
                    for bin in bins.start..bins.end.min(channel.zz.len()) {
                        left += channel.rr[bin];
                        let sum = |sums: &[Vec<Complex64>]| {
                            sums.iter().map(|sums| sums[bin].norm_sqr()).sum::<f64>()
                        };
                        if channel.zz[bin] > 0.0 {
                            let more = sum(&channel.before) - sum(&channel.behind);
                            explained += more / channel.zz[bin];
                        }
                    }
                }
                (left > LEAST_SHARE * all).then(|| explained / left)
            })
            .collect();
        if shares.len() < LEAST_BANDS {
            return 0.0;
        }
        crate::compare::median::median(&mut shares).unwrap_or(0.0).clamp(0.0, 1.0)
    }
}

/// The bins of a third-octave.
fn bins_of(n: i32, bin_hz: f64) -> std::ops::Range<usize> {
    let half = 10f64.powf(0.05);
    let hz = 1_000.0 * 10f64.powf(f64::from(n) / 10.0);
    let bin = |hz: f64| (hz / bin_hz).round() as usize;
    bin(hz / half)..bin(hz * half)
}
