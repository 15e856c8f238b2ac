//! The cepstrum of a level over frequency: a comb of it has a peak at its delay (B. P. Bogert,
//! M. J. R. Healy, J. W. Tukey, "The quefrency alanysis of time series for echoes", 1963; from memory).

use std::cell::RefCell;
use std::ops::Range;
use std::sync::Arc;

use realfft::{RealFftPlanner, RealToComplex};

/// Delays looked for, in seconds.
const LEAST_S: f64 = 0.000_4;
const MOST_S: f64 = 0.26;
/// How far a peak has to stand above the median of all delays. That of independent noises is 6 times
/// as high.
const LEAST_PROMINENCE: f64 = 16.0;
/// Least height of a peak: a copy 22 dB below.
const LEAST_HEIGHT: f64 = 0.08;
/// How high the peak at twice the delay may be against the one at it: that of narrow lines is as high.
const MOST_SECOND: f64 = 0.75;
/// Points of the transform for each bin: a peak between two points loses a tenth at most.
const POINTS_A_BIN: usize = 4;

/// Plans of transforms, each made once.
#[derive(Default)]
pub(super) struct Plans(RefCell<RealFftPlanner<f32>>);

impl Plans {
    fn of(&self, length: usize) -> Arc<dyn RealToComplex<f32>> {
        self.0.borrow_mut().plan_fft_forward(length)
    }
}

/// The cepstrum of a level over frequency.
pub(super) struct Cepstrum {
    /// Heights by delay.
    heights: Vec<f32>,
    step_s: f64,
    /// Of the levels around their trend, in squares of nepers of power.
    variance: f64,
}

impl Cepstrum {
    /// Of the levels, in dB, in some bins of `bin_hz` each.
    pub(super) fn new(
        plans: &Plans,
        bins: &[usize],
        bin_hz: f64,
        level: &dyn Fn(usize) -> f64,
    ) -> Option<Self> {
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
        let fft = plans.of(length);
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
    pub(super) fn peak(&self) -> Option<(f64, f64)> {
        let range = self.range();
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

    /// Whether a peak is that of a comb, and not one of the many that narrow lines have.
    pub(super) fn is_comb(&self, delay_s: f64, height: f64) -> bool {
        self.at(2.0 * delay_s).abs() <= MOST_SECOND * height.abs()
    }

    /// Whether, a comb apart, the levels scatter as those of noise do: means of so many transforms, or
    /// ratios of two such means. Anything that sounds in lines scatters more.
    pub(super) fn is_noise_like(
        &self,
        height: f64,
        transforms: impl IntoIterator<Item = u64>,
    ) -> bool {
        let share = |count: u64| 1.0 / count.max(1) as f64;
        let noise = 0.5 + 5.0 * transforms.into_iter().map(share).sum::<f64>();
        self.variance - of_comb(height) <= noise
    }

    /// The largest height of all delays that are looked for, either way.
    pub(super) fn highest(&self) -> f64 {
        self.range().map(|index| f64::from(self.heights[index].abs())).fold(0.0, f64::max)
    }

    /// The delays that are looked for.
    fn range(&self) -> Range<usize> {
        let index = |seconds: f64| ((seconds / self.step_s) as usize).min(self.heights.len() - 2);
        index(LEAST_S).max(1)..index(MOST_S)
    }

    /// The height furthest from 0 around a delay.
    pub(super) fn at(&self, seconds: f64) -> f64 {
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
