//! A copy of a sound that comes late makes a comb of its spectrum: the cepstrum of the ratio of two
//! spectra has a peak at the delay.
//!
//! Of a sound and its copy at `g` times its amplitude, T later, the power is that of the sound times
//! |1 + g·e^(−iωT)|². A window of length F sees the product of the two only as far as both lie under it,
//! which leaves w(T/F) of 2g·cos ωT. So the cepstrum's peak q at T obeys q/(1 + q²) = w·g/(1 + g²).

use std::f64::consts::PI;

use realfft::RealFftPlanner;
use serde::Serialize;

use super::super::evidence::{Evidence, Fine, Kept};
use super::super::finder::{BANDS, band_at};

/// Delays looked for, in seconds.
const LEAST_S: f64 = 0.000_4;
const MOST_S: f64 = 0.26;
/// How far a peak has to stand above the median of all delays. That of independent noises is 6 times
/// as high.
const LEAST_PROMINENCE: f64 = 16.0;
/// Bins this far below the middle of all in both spectra say nothing, in dB: the teeth of a comb are
/// deep, but not in both.
const LEAST_DB: f64 = 30.0;
/// Least height of a peak: a copy 22 dB below.
const LEAST_HEIGHT: f64 = 0.08;
/// Transforms that each spectrum is the mean of, at least.
const LEAST_TRANSFORMS: u64 = 3;
/// How high the peak at twice the delay may be against the one at it: that of narrow lines is as high.
const MOST_SECOND: f64 = 0.75;
/// Points of the transform for each bin: a peak between two points loses a tenth at most.
const POINTS_A_BIN: usize = 4;
/// A copy is told in one entry alone where its peak is at least so many times the other's.
const LEAST_OWN: f64 = 2.0;

/// A copy of a sound.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CopyFound {
    /// By how much it comes late, in ms.
    pub delay_ms: f64,
    /// Its level against that of the sound: of the weaker of the two against the stronger, in dB.
    pub level_db: f64,
    /// Whether it comes inverted.
    pub inverted: bool,
}

/// In which of two entries a copy is heard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Combs {
    pub(super) before: Option<CopyFound>,
    pub(super) after: Option<CopyFound>,
}

/// Looks for a copy that is heard in one of two entries and not in the other, or at another delay.
pub(super) fn find([before, after]: [&Evidence; 2], kept: fn(&Fine) -> &Kept) -> Option<Combs> {
    let steady: Vec<usize> = (0..BANDS)
        .filter(|band| [before, after].iter().all(|e| e.scatter.is_band_steady(*band)))
        .collect();
    let (before, after) = (&before.fine, &after.fine);
    let is_enough = before.transforms.min(after.transforms) >= LEAST_TRANSFORMS;
    if !is_enough || before.bin_hz != after.bin_hz {
        return None;
    }
    let (one, other) = (kept(before), kept(after));
    let [least_one, least_other] = [one, other].map(|kept| kept.median_db() - LEAST_DB);
    let is_steady = |bin: usize| steady.contains(&band_at(bin as f64 * before.bin_hz));
    let counts = |bin: usize| one.db(bin) >= least_one || other.db(bin) >= least_other;
    let bins: Vec<usize> =
        (1..one.len().min(other.len())).filter(|&bin| is_steady(bin) && counts(bin)).collect();
    let cepstrum = |level: &dyn Fn(usize) -> f64| Cepstrum::new(&bins, before.bin_hz, level);
    let ratio = cepstrum(&|bin| other.db(bin) - one.db(bin))?;
    let (delay_s, height) = ratio.peak()?;
    let transforms = [before.transforms, after.transforms].map(|count| count as f64);
    if ratio.at(2.0 * delay_s).abs() > MOST_SECOND * height.abs()
        || ratio.variance - of_comb(height) > of_noise(transforms)
    {
        return None;
    }
    let [own_before, own_after] = [one, other]
        .map(|kept| cepstrum(&|bin| kept.db(bin)).map_or(0.0, |cepstrum| cepstrum.at(delay_s)));
    let copy = |delay_s: f64, height: f64| CopyFound {
        delay_ms: delay_s * 1e3,
        level_db: 20.0 * amplitude(height.abs(), overlap(delay_s * before.bin_hz)).log10(),
        inverted: height < 0.0,
    };
    // The other entry may hold one as well, at another delay.
    let alone = |kept: &Kept| {
        let cepstrum = cepstrum(&|bin| kept.db(bin))?;
        let (delay_s, height) = cepstrum.peak()?;
        let is_comb = cepstrum.at(2.0 * delay_s).abs() <= MOST_SECOND * height.abs();
        is_comb.then(|| copy(delay_s, height))
    };
    if own_after.abs() >= LEAST_OWN * own_before.abs() {
        Some(Combs { before: alone(one), after: Some(copy(delay_s, height)) })
    } else if own_before.abs() >= LEAST_OWN * own_after.abs() {
        Some(Combs { before: Some(copy(delay_s, -height)), after: alone(other) })
    } else {
        None
    }
}

/// The cepstrum of a level over frequency.
struct Cepstrum {
    /// Heights by delay.
    heights: Vec<f32>,
    step_s: f64,
    /// Of the levels around their trend, in squares of nepers of power.
    variance: f64,
}

impl Cepstrum {
    fn new(bins: &[usize], bin_hz: f64, level: &dyn Fn(usize) -> f64) -> Option<Self> {
        let last = *bins.last()?;
        let length = (POINTS_A_BIN * last).next_power_of_two();
        let trend = Trend::new(bins, level)?;
        let mut levels = vec![0f32; length];
        let mut variance = 0.0;
        for &bin in bins {
            let off = (level(bin) - trend.at(bin)) * std::f64::consts::LN_10 / 10.0;
            variance += off * off / bins.len() as f64;
            levels[bin] = (off / bins.len() as f64) as f32;
        }
        let fft = RealFftPlanner::<f32>::new().plan_fft_forward(length);
        let mut output = fft.make_output_vec();
        // The lengths are the plan's own.
        fft.process(&mut levels, &mut output).ok()?;
        Some(Self {
            heights: output.iter().map(|value| value.re).collect(),
            step_s: 1.0 / (length as f64 * bin_hz),
            variance,
        })
    }

    /// The highest peak, either way, and its delay in seconds, if it stands out.
    fn peak(&self) -> Option<(f64, f64)> {
        let index = |seconds: f64| ((seconds / self.step_s) as usize).min(self.heights.len() - 2);
        let range = index(LEAST_S).max(1)..index(MOST_S);
        let mut sizes: Vec<f32> =
            self.heights[range.clone()].iter().map(|height| height.abs()).collect();
        if sizes.is_empty() {
            return None;
        }
        let middle = sizes.len() / 2;
        let median = *sizes.select_nth_unstable_by(middle, f32::total_cmp).1;
        let top = range
            .max_by(|&one, &other| self.heights[one].abs().total_cmp(&self.heights[other].abs()))?;
        let [before, here, behind] =
            [top - 1, top, top + 1].map(|index| f64::from(self.heights[index]));
        if here.abs() < LEAST_HEIGHT.max(LEAST_PROMINENCE * f64::from(median)) {
            return None;
        }
        let bend = before - 2.0 * here + behind;
        let offset = if bend == 0.0 { 0.0 } else { 0.5 * (before - behind) / bend };
        let height = here - 0.25 * (before - behind) * offset;
        Some(((top as f64 + offset) * self.step_s, height))
    }

    /// The height furthest from 0 around a delay.
    fn at(&self, seconds: f64) -> f64 {
        let middle = (seconds / self.step_s).round() as usize;
        let near = middle.saturating_sub(2)..(middle + 3).min(self.heights.len());
        let heights = near.filter_map(|index| self.heights.get(index));
        let furthest = heights.max_by(|one, other| one.abs().total_cmp(&other.abs()));
        f64::from(furthest.copied().unwrap_or_default())
    }
}

/// The smooth course of a level over frequency: a parabola over the logarithm of it, by least squares.
struct Trend {
    middle: f64,
    terms: [f64; 3],
}

impl Trend {
    fn new(bins: &[usize], level: &dyn Fn(usize) -> f64) -> Option<Self> {
        let logarithm = |bin: usize| (bin as f64).ln();
        let middle = bins.iter().map(|&bin| logarithm(bin)).sum::<f64>() / bins.len() as f64;
        let (mut powers, mut products) = ([0.0; 5], [0.0; 3]);
        for &bin in bins {
            let (x, y) = (logarithm(bin) - middle, level(bin));
            let mut power = 1.0;
            for (index, sum) in powers.iter_mut().enumerate() {
                *sum += power;
                if let Some(product) = products.get_mut(index) {
                    *product += power * y;
                }
                power *= x;
            }
        }
        let [a, b, c, d, e] = powers;
        let determinant = |m: [[f64; 3]; 3]| {
            m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1])
                - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0])
                + m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0])
        };
        let matrix = [[a, b, c], [b, c, d], [c, d, e]];
        let whole = determinant(matrix);
        let terms = [0, 1, 2].map(|term| {
            let mut replaced = matrix;
            for (row, product) in replaced.iter_mut().zip(products) {
                row[term] = product;
            }
            determinant(replaced) / whole
        });
        terms.iter().all(|term| term.is_finite()).then_some(Self { middle, terms })
    }

    fn at(&self, bin: usize) -> f64 {
        let x = (bin as f64).ln() - self.middle;
        self.terms[0] + x * (self.terms[1] + x * self.terms[2])
    }
}

/// The variance of ln|1 + q·e^(−iωT)|²: twice the sum of q^(2n)/n².
fn of_comb(height: f64) -> f64 {
    let square = (height * height).min(1.0);
    2.0 * (1..40).map(|n| square.powi(n) / f64::from(n * n)).sum::<f64>()
}

/// More than the variance of the logarithm of a ratio of two noises' spectra, each the mean of so many
/// overlapping transforms. That of anything that sounds in lines is more than that.
fn of_noise(transforms: [f64; 2]) -> f64 {
    0.5 + 5.0 * transforms.iter().map(|count| 1.0 / count).sum::<f64>()
}

/// What a Hann window leaves of a product of a sound with itself `share` of its length later.
fn overlap(share: f64) -> f64 {
    let angle = 2.0 * PI * share;
    (1.0 - share) * (2.0 + angle.cos()) / 3.0 + angle.sin() / (2.0 * PI)
}

/// The amplitude, up to 1, of a copy whose peak in the cepstrum is `height`.
fn amplitude(height: f64, overlap: f64) -> f64 {
    let height = height.min(1.0);
    let product = (height / (1.0 + height * height) / overlap).min(0.5);
    (1.0 - (1.0 - 4.0 * product * product).max(0.0).sqrt()) / (2.0 * product)
}
