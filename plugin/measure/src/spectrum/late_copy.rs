//! Whether one half holds the other again, later: a peak of their cross-correlation away from 0.
//!
//! The cross spectrum of the halves, averaged since reset and divided by their own spectra, goes back
//! to a correlation over lags ("smoothed coherence transform": G. C. Carter, A. H. Nuttall,
//! P. G. Cable, Proc. IEEE 61, 1973). Both halves of a pair lie under one window, so a copy is seen
//! the less the later it comes, and not at all beyond `MOST_SHARE` of a transform. Nothing found is
//! therefore no proof of independence.

use std::f64::consts::TAU;
use std::sync::Arc;

use rustfft::Fft;
use rustfft::num_complex::{Complex32, Complex64};

use super::analyser::Analyser;
use super::powers::HalvesBins;
use super::stages::Stages;
use super::window;
use crate::highest::highest;
use crate::reading::{Half, LateCopy};

/// Fewer transforms leave too much of the halves' own in the mean.
const LEAST_TRANSFORMS: u64 = 8;
/// Shortest delay that counts as one, in seconds: below it lie what spaced microphones and phase
/// differences make.
const LEAST_DELAY_S: f64 = 0.000_1;
/// Longest delay looked for, as a share of a transform.
const MOST_SHARE: f64 = 0.6;
/// How far a peak has to stand above the root mean square of all lags. The highest of eight thousand
/// lags of independent noises stands 4 times above it.
const LEAST_PROMINENCE: f64 = 8.0;
/// How high the next peak may be, against the highest: what repeats itself has many.
const MOST_SECOND: f64 = 0.5;
/// Lags this close to a peak belong to it, in seconds.
const PEAK_REACH_S: f64 = 0.002;
/// Bins weaker than this, against the strongest, are left out: products of two powers.
const LEAST_PRODUCT: f64 = 1e-18;
/// Least correlation of a copy with what it copies part of.
const LEAST_CORRELATION: f64 = 0.3;
/// Largest standard deviation of a correlation that is told.
const MOST_SCATTER: f64 = 0.03;
/// Bins that one pass takes to their coherence.
const BINS_A_PASS: usize = 2048;
/// Bins whose angles are turned at a time.
const LANES: usize = 4;

/// A look for a copy of one half in the other, in stages.
pub(crate) struct LateCopySearch {
    fft: Arc<dyn Fft<f32>>,
    scratch: Vec<Complex32>,
    /// Cross spectrum over the halves' own, then the correlation over lags, positive ones first.
    lags: Vec<Complex32>,
    rate_hz: f64,
    stages: Stages,
    /// Products that are left out.
    least: f64,
    /// Index of the highest lag.
    highest: usize,
    /// Where the peak lies, positive where B comes later.
    peak_frames: f64,
    found: Option<LateCopy>,
}

impl LateCopySearch {
    /// Looks into what `analyser` holds.
    pub(crate) fn new(analyser: &Analyser) -> Self {
        let fft = analyser.fft().clone();
        Self {
            scratch: vec![Complex32::default(); fft.get_inplace_scratch_len()],
            lags: vec![Complex32::default(); fft.len()],
            fft,
            rate_hz: analyser.bin_hz() * analyser.length() as f64,
            stages: Stages::default(),
            least: 0.0,
            highest: 0,
            peak_frames: 0.0,
            found: None,
        }
    }

    /// Begins another look.
    pub(crate) fn begin(&mut self) {
        self.found = None;
        self.stages.begin(self.passes_to_coherence() + 5);
    }

    /// Does the next stage, and says whether the look is over.
    pub(crate) fn advance(&mut self, analyser: &Analyser) -> bool {
        let coherent = self.passes_to_coherence();
        let goes_on = match self.stages.take_one() {
            None => false,
            Some(0) => self.has_products(analyser),
            Some(pass) if pass <= coherent => self.take_coherence(analyser, pass - 1),
            Some(pass) => match pass - coherent {
                1 => {
                    self.fft.process_with_scratch(&mut self.lags, &mut self.scratch);
                    true
                }
                2 => self.has_late_peak(),
                3 => self.is_one_of_a_kind(),
                _ => {
                    self.found = self.told(analyser);
                    true
                }
            },
        };
        if !goes_on {
            self.stages.stop();
        }
        self.stages.are_done()
    }

    /// The copy of one half in the other, if the look that is over found one.
    pub(crate) fn found(&self) -> Option<LateCopy> {
        self.found
    }

    fn passes_to_coherence(&self) -> usize {
        (self.lags.len() / 2).div_ceil(BINS_A_PASS)
    }

    /// Whether both halves hold enough; notes which products are too weak to count.
    fn has_products(&mut self, analyser: &Analyser) -> bool {
        if analyser.transforms() < LEAST_TRANSFORMS {
            return false;
        }
        let HalvesBins { aa, bb, .. } = analyser.halves();
        let bb = &bb[..aa.len()];
        let strongest = highest(aa, |bin, aa| aa * bb[bin]);
        self.least = strongest * LEAST_PRODUCT;
        self.least > 0.0
    }

    /// Takes some bins of the cross spectrum, over the halves' own, both ways.
    fn take_coherence(&mut self, analyser: &Analyser, pass: usize) -> bool {
        let HalvesBins { aa, bb, real, imaginary } = analyser.halves();
        let length = self.lags.len();
        let bins = pass * BINS_A_PASS..((pass + 1) * BINS_A_PASS).min(length / 2);
        if bins.start == 0 {
            // 0 Hz and half the rate.
            self.lags[0] = Complex32::default();
            self.lags[length / 2] = Complex32::default();
        }
        for bin in bins.start.max(1)..bins.end {
            let product = aa[bin] * bb[bin];
            let share = if product > self.least { 1.0 / product.sqrt() } else { 0.0 };
            let value = Complex32::new((real[bin] * share) as f32, (imaginary[bin] * share) as f32);
            self.lags[bin] = value;
            self.lags[length - bin] = value.conj();
        }
        true
    }

    /// Whether the highest lag is of a delay that is looked for.
    fn has_late_peak(&mut self) -> bool {
        let top = highest(&self.lags, |_, lag| height(lag));
        self.highest = self.lags.iter().rposition(|&lag| height(lag) >= top).unwrap_or(0);
        let within = LEAST_DELAY_S * self.rate_hz..=MOST_SHARE * self.lags.len() as f64;
        within.contains(&self.highest_lag().abs())
    }

    /// The highest lag, in frames.
    fn highest_lag(&self) -> f64 {
        let length = self.lags.len();
        if self.highest < length / 2 {
            self.highest as f64
        } else {
            self.highest as f64 - length as f64
        }
    }

    /// Whether the highest lag stands above all others; places the peak.
    fn is_one_of_a_kind(&mut self) -> bool {
        let length = self.lags.len();
        let reach = (PEAK_REACH_S * self.rate_hz).ceil() as usize;
        let others = length.saturating_sub(2 * reach + 1);
        let first = (self.highest + reach + 1) % length;
        let upper = &self.lags[first..length.min(first + others)];
        let lower = &self.lags[..others - upper.len()];
        let [above, below] = [upper, lower].map(|lags| highest(lags, |_, lag| height(lag)));
        let scatter = ((energy(upper) + energy(lower)) / others as f64).sqrt();
        let [before, here, behind] =
            [length - 1, 0, 1].map(|beside| height(self.lags[(self.highest + beside) % length]));
        if here < LEAST_PROMINENCE * scatter || above.max(below) > MOST_SECOND * here {
            return false;
        }
        let bend = before - 2.0 * here + behind;
        let offset = if bend < 0.0 { 0.5 * (before - behind) / bend } else { 0.0 };
        self.peak_frames = self.highest_lag() + offset;
        true
    }

    /// What is told of a copy at the peak.
    fn told(&self, analyser: &Analyser) -> Option<LateCopy> {
        let share = self.peak_frames / self.lags.len() as f64;
        let overlap = window::overlap(share);
        let (correlation, scatter) = correlation(analyser, share);
        let correlation = correlation / overlap;
        (correlation.abs() >= LEAST_CORRELATION).then(|| LateCopy {
            later: if self.peak_frames > 0.0 { Half::B } else { Half::A },
            delay_ms: (self.peak_frames / self.rate_hz).abs() * 1e3,
            inverted: correlation < 0.0,
            correlation: (scatter <= MOST_SCATTER * overlap).then(|| correlation.clamp(-1.0, 1.0)),
        })
    }
}

fn height(lag: Complex32) -> f64 {
    f64::from(lag.re.abs())
}

/// Energy of lags.
fn energy(lags: &[Complex32]) -> f64 {
    let mut lanes = [0.0; LANES];
    for lags in lags.chunks(LANES) {
        for (lane, lag) in lanes.iter_mut().zip(lags) {
            *lane += f64::from(lag.re) * f64::from(lag.re);
        }
    }
    lanes.iter().sum()
}

/// Correlation of A with B taken back by `share` of a transform, by energy, and its standard deviation
/// were the two independent: in each bin, the mean of as many products as there were transforms.
fn correlation(analyser: &Analyser, share: f64) -> (f64, f64) {
    let HalvesBins { aa, bb, real, imaginary } = analyser.halves();
    let turned = |bins: usize| Complex64::from_polar(1.0, TAU * (bins as f64 * share).fract());
    // Each bin's angle is the one `LANES` bins before, turned on.
    let mut turns: [Complex64; LANES] = std::array::from_fn(turned);
    let by = turned(LANES);
    let [mut aa_sum, mut bb_sum, mut ab_sum, mut products] = [[0.0; LANES]; 4];
    let own = aa.as_chunks::<LANES>().0.iter().zip(bb.as_chunks::<LANES>().0);
    let cross = real.as_chunks::<LANES>().0.iter().zip(imaginary.as_chunks::<LANES>().0);
    for ((aa, bb), (real, imaginary)) in own.zip(cross) {
        for lane in 0..LANES {
            aa_sum[lane] += aa[lane];
            bb_sum[lane] += bb[lane];
            products[lane] += aa[lane] * bb[lane];
            ab_sum[lane] += real[lane] * turns[lane].re + imaginary[lane] * turns[lane].im;
            turns[lane] *= by;
        }
    }
    let [aa, bb, ab, products] =
        [aa_sum, bb_sum, ab_sum, products].map(|lanes| lanes.iter().sum::<f64>());
    let both = (aa * bb).sqrt();
    (ab / both, (products / (2.0 * analyser.transforms() as f64)).sqrt() / both)
}
