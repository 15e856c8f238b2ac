//! A bus that bends the sound softly, as a stage near its limit does: x becomes x − κ·x³/X², with X
//! what both feeds' peaks make together, as in step 3.
//!
//! A bend takes more from a loud sum than from its parts, so the sum comes out too low, by as much as
//! follows from κ. What clips hard and takes less than a decibel from the sum leaves over something
//! else: of that, the cubes explain less than 0.9 in uniform noise and in the sum of two, wherever it
//! clips; of what a saturating curve leaves, more than 0.95.

use realfft::RealFftPlanner;
use realfft::num_complex::{Complex32, Complex64};

use super::FITTED_STEPS;
use super::references::References;
use super::response::{Path, narrow};
use super::sums::{self, SumFit};
use super::takes::Takes;
use super::turns::Turns;
use crate::sum_test::schedule::STEPS;

/// The cubes have to explain this share of what the sum leaves over.
const LEAST_EXPLAINED: f64 = 0.92;
/// And to be there for certain, in standard errors.
const CERTAIN: f64 = 4.0;
/// Noise in what is left over, over that of one step: where step 3 is compared with two other steps,
/// and where independent noises are, whose spectra are weighed by half.
const NOISES: [f64; 2] = [3.0, 1.0];

/// A soft bend.
#[derive(Debug, Clone)]
pub(in crate::sum_test) struct Bend {
    /// Third harmonic of a sine as high as both feeds' peaks together, over the sine.
    pub third_harmonic: f64,
    /// Its standard error.
    pub error: f64,
    /// The sums as they are without it.
    pub sums: Vec<Option<SumFit>>,
}

/// What cubes of the steps' waveforms leave in the recording, for the first seven: made on the bus,
/// by the channels' gains and the delay between them, `finer` times as many samples a second as it
/// has, and then sent the way that feed 1 goes.
fn cubes(
    [one, two]: [&Path; 2],
    finer: usize,
    references: &References,
) -> Vec<Option<Vec<Complex32>>> {
    let size = references.size;
    let mut planner = RealFftPlanner::<f32>::new();
    let (forward, inverse) =
        (planner.plan_fft_forward(finer * size), planner.plan_fft_inverse(finer * size));
    // The noises' peak is 1.
    let peak = (one.gain.abs() + two.gain.abs()) as f32;
    let later = two.delay_frames - one.delay_frames;
    let turns: Vec<Complex64> = Turns::new(0, later, size).take(references.a.len()).collect();
    let way: Vec<Complex64> = one.way(size).take(references.a.len()).collect();
    let cubed = |step: usize| {
        let mut spectrum = inverse.make_input_vec();
        if let Some((noise, sign)) = references.of(STEPS[step].feed_1) {
            let gain = (sign * one.gain) as f32;
            spectrum.iter_mut().zip(noise).for_each(|(sum, noise)| *sum += noise * gain);
        }
        if let Some((noise, sign)) = references.of(STEPS[step].feed_2) {
            for ((sum, noise), turn) in spectrum.iter_mut().zip(noise).zip(&turns) {
                *sum += noise * narrow(turn * (sign * two.gain));
            }
        }
        spectrum[0].im = 0.0;
        if let Some(last) = spectrum.last_mut() {
            last.im = 0.0;
        }
        let mut time = inverse.make_output_vec();
        // Lengths come from the plan, so the transform cannot refuse them.
        let _ = inverse.process(&mut spectrum, &mut time);
        for x in &mut time {
            let bus = *x / size as f32;
            *x = bus * (bus / peak).powi(2);
        }
        let mut spectrum = forward.make_output_vec();
        let _ = forward.process(&mut time, &mut spectrum);
        let bins = spectrum.iter().zip(&way);
        bins.map(|(bin, way)| bin * narrow(way / finer as f64)).collect()
    };
    (0..FITTED_STEPS).map(|step| Some(cubed(step))).collect()
}

/// The bend, if there is one and it explains what the sums leave over. `plain` are the sums without.
pub(super) fn bend(
    plain: &[Option<SumFit>],
    feeds: &[Option<Path>; 2],
    takes: &Takes,
    references: &References,
) -> Option<Bend> {
    // A mixer that computes bends samples, one that does not the waveform between them too.
    let found = [1, 2].map(|finer| by_cubes(finer, plain, feeds, takes, references));
    let best = found.into_iter().flatten().max_by(|x, y| x.0.total_cmp(&y.0));
    best.map(|(_, bend)| bend)
}

/// The same by cubes so many times as fine as the samples, with the share that they explain.
fn by_cubes(
    finer: usize,
    plain: &[Option<SumFit>],
    feeds: &[Option<Path>; 2],
    takes: &Takes,
    references: &References,
) -> Option<(f64, Bend)> {
    let [Some(one), Some(two)] = feeds else { return None };
    let cubes = cubes([one, two], finer, references);
    let straight: Vec<Option<SumFit>> = (0..FITTED_STEPS)
        .map(|step| sums::fit(step, feeds, takes, references, Some(&cubes)))
        .collect();
    // Where it shows most.
    let step = [2, 4, 5, 6].into_iter().find(|&step| {
        straight[step].is_some_and(|sum| sum.bend.is_some() && sum.shares[0].is_some())
    })?;
    let (before, after) = (plain[step]?, straight[step]?);
    let (share, error) = after.bend?;
    let bins = references.bins(super::GAIN_RANGE_HZ).len() as f64;
    let noise = NOISES[usize::from(step > 2)] * takes.floor * bins / after.power;
    let explained = (before.left_ratio - after.left_ratio) / (before.left_ratio - noise).max(0.0);
    let is_soft = explained >= LEAST_EXPLAINED && -share > CERTAIN * error;
    let third_harmonic = -share / 4.0 / (1.0 + 0.75 * share);
    is_soft.then(|| (explained, Bend { third_harmonic, error: error / 4.0, sums: straight }))
}
