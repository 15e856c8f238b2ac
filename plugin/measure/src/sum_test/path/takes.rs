//! What was heard in each step, and what follows from it without knowing the path: the bus heard
//! each feed not once but several times, and whatever it is, if it is linear, it made the same of it.
//!
//! Step 1 is a take of feed 1's path. Half the sum of steps 3 and 4 is another: feed 2 plays the same
//! in both but for its sign, and drops out. So is half the sum of steps 5 and 6; and half the
//! difference of steps 3 and 4 is a take of feed 2's path, as step 2 is. In what takes differ there is
//! no path, only noise. Where a feed was not heard alone, more combinations stand in.

use std::f64::consts::TAU;
use std::ops::Range;

use realfft::RealFftPlanner;
use realfft::num_complex::{Complex32, Complex64};

use super::GAIN_RANGE_HZ;
use super::references::References;
use super::regression::dot;
use super::response::wide;

/// Noise has to exceed that of the silence by this factor before it follows the sound: both are
/// estimates.
const SURELY: f64 = 1.05;

/// A tone spreads over so many bins of the silence on either side.
const SPREAD_BINS: f64 = 2.0;

/// Which steps, by index, with which weights, add up to what one feed makes alone.
type Recipe = &'static [(usize, f32)];
/// By feed: how its path follows from the steps, the best first.
const RECIPES: [&[Recipe]; 2] = [
    &[&[(0, 1.0)], &[(2, 0.5), (3, 0.5)], &[(4, 0.5), (5, 0.5)]],
    &[&[(1, 1.0)], &[(2, 0.5), (3, -0.5)]],
];
/// By feed: what stands in where the step is missing in which it plays alone.
const STAND_INS: [&[Recipe]; 2] = [
    &[&[(2, 1.0), (1, -1.0)], &[(3, 1.0), (1, 1.0)]],
    &[
        &[(2, 1.0), (0, -1.0)],
        &[(0, 1.0), (3, -1.0)],
        &[(2, 1.0), (4, -0.5), (5, -0.5)],
        &[(4, 0.5), (5, 0.5), (3, -1.0)],
    ],
];

/// One take of what a feed makes alone of the first noise.
pub(super) struct Take {
    pub spectrum: Vec<Complex32>,
    recipe: Recipe,
}

impl Take {
    fn of(heard: &[Option<Vec<Complex32>>], recipe: Recipe) -> Option<Self> {
        Some(Self { spectrum: combined(heard, recipe)?, recipe })
    }

    /// The same combination of other spectra of the steps.
    pub fn made_of(&self, steps: &[Option<Vec<Complex32>>]) -> Option<Vec<Complex32>> {
        combined(steps, self.recipe)
    }

    /// Its noise's power, over that of one step.
    fn variance(&self) -> f64 {
        self.recipe.iter().map(|(_, weight)| f64::from(*weight).powi(2)).sum()
    }

    /// The most that a tone in the recording can be in it, over what it is in one step.
    pub fn most(&self) -> f64 {
        self.recipe.iter().map(|(_, weight)| f64::from(weight.abs())).sum()
    }

    fn holds(&self, step: usize) -> bool {
        self.recipe.iter().any(|(own, _)| *own == step)
    }

    /// Whether no step is in both, so that their noises have nothing to do with each other.
    fn is_apart_from(&self, other: &Self) -> bool {
        self.recipe.iter().all(|(step, _)| !other.holds(*step))
    }
}

fn combined(steps: &[Option<Vec<Complex32>>], recipe: Recipe) -> Option<Vec<Complex32>> {
    let (&(first, weight), others) = recipe.split_first()?;
    let mut sum: Vec<Complex32> = steps[first].as_ref()?.iter().map(|bin| bin * weight).collect();
    for &(step, weight) in others {
        let bins = steps[step].as_ref()?;
        sum.iter_mut().zip(bins).for_each(|(sum, bin)| *sum += bin * weight);
    }
    Some(sum)
}

/// Spectra of the steps, and the takes of the paths.
pub(super) struct Takes {
    /// By step, for the first seven; `None` for one that was not heard.
    pub heard: Vec<Option<Vec<Complex32>>>,
    /// By feed, the best first.
    pub of: [Vec<Take>; 2],
    /// The recording's own noise.
    pub silence: Silence,
    /// Mean power that a bin in the range of gains has of it.
    pub floor: f64,
}

/// What in a recording comes from no feed.
#[derive(Debug, Clone, Copy)]
pub(super) struct Noise {
    /// Its power over the feed's, by the takes that differ least, since something else may have sounded
    /// in one of the steps.
    pub ratio: f64,
    /// What of it is not there in silence but comes and goes with the sound, over the feed's power, by
    /// the takes that differ most.
    pub following_ratio: f64,
}

impl Takes {
    pub fn new(windows: &[Option<Vec<f32>>], references: &References) -> Self {
        let heard: Vec<Option<Vec<Complex32>>> = windows
            .iter()
            .map(|window| window.as_ref().map(|window| references.spectrum(window)))
            .collect();
        Self::of_spectra(heard, Silence::new(windows, references))
    }

    fn of_spectra(heard: Vec<Option<Vec<Complex32>>>, silence: Silence) -> Self {
        let of = [0, 1].map(|feed: usize| {
            let stand_ins: &[Recipe] = if heard[feed].is_some() { &[] } else { STAND_INS[feed] };
            let recipes = RECIPES[feed].iter().chain(stand_ins);
            recipes.filter_map(|recipe| Take::of(&heard, recipe)).collect()
        });
        let floor = silence.mean(GAIN_RANGE_HZ);
        Self { heard, of, silence, floor }
    }

    /// The takes of a recording from which this is taken, by step.
    pub fn less(&self, taken: impl Fn(usize) -> Option<Vec<Complex32>>) -> Self {
        let less = |(step, heard): (usize, &Option<Vec<Complex32>>)| {
            let mut left = heard.clone()?;
            for (bin, taken) in left.iter_mut().zip(taken(step)?) {
                *bin -= taken;
            }
            Some(left)
        };
        Self::of_spectra(self.heard.iter().enumerate().map(less).collect(), self.silence.clone())
    }

    /// The best take of a feed's path that holds nothing of a step, and the best other one whose noise
    /// is in neither.
    pub fn without(&self, feed: usize, step: usize) -> Option<(&Take, Option<&Take>)> {
        let apart = || self.of[feed].iter().filter(|take| !take.holds(step));
        let best = apart().next()?;
        Some((best, apart().find(|take| take.is_apart_from(best))))
    }

    /// The best take of a feed's path, and the best other one whose noise is its own.
    pub fn best(&self, feed: usize) -> Option<(&Take, Option<&Take>)> {
        let (best, others) = self.of[feed].split_first()?;
        Some((best, others.iter().find(|take| take.is_apart_from(best))))
    }

    /// What of the recording is no feed's, from the takes of one feed's path; `None` where there are
    /// no two that can be compared.
    pub fn noise(&self, feed: usize, references: &References) -> Option<Noise> {
        let range = references.bins(GAIN_RANGE_HZ);
        let takes: Vec<(&Take, Vec<Complex64>)> =
            self.of[feed].iter().map(|take| (take, part(&take.spectrum, &range))).collect();
        let floor = self.floor * range.len() as f64;
        let mut found: Option<Noise> = None;
        for (index, (x_take, x)) in takes.iter().enumerate() {
            for (y_take, y) in takes.iter().skip(index + 1) {
                if !x_take.is_apart_from(y_take) {
                    continue;
                }
                // A gain that differs is no noise; a third take tells it apart.
                let third = takes
                    .iter()
                    .find(|(take, _)| take.is_apart_from(x_take) && take.is_apart_from(y_take));
                let gain = third.map_or(1.0, |(_, z)| dot(z, y) / dot(z, x));
                let signal = (gain * dot(x, y)).max(0.0);
                let apart = dot(y, y) + gain * gain * dot(x, x) - 2.0 * gain * dot(x, y);
                let noise = apart.max(0.0) / (y_take.variance() + gain * gain * x_take.variance());
                let following = (noise - SURELY * floor).max(0.0);
                let before = found.unwrap_or(Noise { ratio: f64::INFINITY, following_ratio: 0.0 });
                found = Some(Noise {
                    ratio: before.ratio.min(noise / signal),
                    following_ratio: before.following_ratio.max(following / signal),
                });
            }
        }
        found
    }

    /// The same where one take is all there is: from what the sum of independent noises leaves over,
    /// which is about as much as one step's noise makes of one feed's power.
    pub fn noise_by_sum(&self, feed: usize, left_ratio: f64, references: &References) -> Noise {
        let range = references.bins(GAIN_RANGE_HZ);
        let power = self.of[feed].first().map_or(0.0, |take| {
            let own = part(&take.spectrum, &range);
            dot(&own, &own)
        });
        let floor_ratio = self.floor * range.len() as f64 / power;
        Noise {
            ratio: left_ratio.max(floor_ratio),
            following_ratio: (left_ratio - SURELY * floor_ratio).max(0.0),
        }
    }
}

/// Bins of a spectrum, with more digits.
pub(super) fn part(spectrum: &[Complex32], range: &Range<usize>) -> Vec<Complex64> {
    spectrum[range.clone()].iter().map(|&bin| wide(bin)).collect()
}

/// The power spectrum of the silence after the steps.
#[derive(Clone)]
pub(super) struct Silence {
    /// By bin of the silence: the mean power that a bin of a whole window has there.
    powers: Vec<f64>,
    /// Its bins in a Hz.
    bins_a_hz: f64,
}

impl Silence {
    fn new(windows: &[Option<Vec<f32>>], references: &References) -> Self {
        let silent = references.silent();
        let size = silent.len();
        let forward = RealFftPlanner::<f32>::new().plan_fft_forward(size);
        let mut spectrum = forward.make_output_vec();
        let hann: Vec<f32> =
            (0..size).map(|n| (0.5 - 0.5 * (TAU * n as f64 / size as f64).cos()) as f32).collect();
        let weight: f64 = hann.iter().map(|&w| f64::from(w).powi(2)).sum();
        let count = windows.iter().flatten().count().max(1) as f64;
        let scale = references.size as f64 / weight / count;
        let mut powers = vec![0.0; spectrum.len()];
        for window in windows.iter().flatten() {
            let mut time: Vec<f32> =
                window[silent.clone()].iter().zip(&hann).map(|(x, w)| x * w).collect();
            // Lengths come from the plan, so the transform cannot refuse them.
            let _ = forward.process(&mut time, &mut spectrum);
            for (power, bin) in powers.iter_mut().zip(&spectrum) {
                *power += scale * f64::from(bin.norm_sqr());
            }
        }
        Self { powers, bins_a_hz: size as f64 / references.rate_hz }
    }

    /// Mean power of a window's bin in a range.
    fn mean(&self, (low_hz, high_hz): (f64, f64)) -> f64 {
        let bin = |hz: f64| (hz * self.bins_a_hz).round() as usize;
        let range = &self.powers[bin(low_hz)..bin(high_hz).min(self.powers.len())];
        range.iter().sum::<f64>() / range.len().max(1) as f64
    }

    /// The most power that a window may have in a range, with what of a tone spreads into it from
    /// beside it.
    pub fn power(&self, (low_hz, high_hz): (f64, f64), window_bins_a_hz: f64) -> f64 {
        let spread_hz = SPREAD_BINS / self.bins_a_hz;
        let wide = ((low_hz - spread_hz).max(0.0), high_hz + spread_hz);
        self.mean(wide) * (wide.1 - wide.0) * window_bins_a_hz
    }
}
