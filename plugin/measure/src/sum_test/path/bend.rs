//! A bus that bends the sound softly, as a stage near its limit does: x becomes x − κ·x³/X², with X
//! what both feeds' peaks make together, as in step 3.
//!
//! A bend takes more from a loud sum than from its parts, so the sum comes out too low, by as much as
//! follows from κ. What clips hard leaves over something else: the cubes of uniform noise explain no
//! more than 0.96 of what clipping takes off it, wherever it clips, and more than 0.99 of what a
//! saturating curve does that costs a decibel.

use realfft::num_complex::Complex32;

use super::FITTED_STEPS;
use super::references::References;
use super::response::{Path, narrow};
use super::sums::{self, SumFit};
use super::takes::Takes;

/// The cubes have to explain this share of what the sum leaves over.
const LEAST_EXPLAINED: f64 = 0.97;
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

/// What cubes of the steps' waveforms leave on the bus, for the first seven; by gain and delay, through
/// the response of feed 1's path.
fn cubes(
    feeds: &[Option<Path>; 2],
    [one, two]: [&Path; 2],
    references: &References,
) -> Vec<Option<Vec<Complex32>>> {
    let waveform = |step: usize| references.waveform(&sums::bus(step, feeds, references));
    // The noises' peak is 1.
    let peak = (one.gain.abs() + two.gain.abs()) as f32;
    (0..FITTED_STEPS)
        .map(|step| {
            let mut cubed = waveform(step);
            cubed.iter_mut().for_each(|x| *x *= (*x / peak).powi(2));
            let mut spectrum = references.plain_spectrum(&mut cubed);
            for (bin, shape) in spectrum.iter_mut().zip(one.shape(references.size)) {
                *bin *= narrow(shape);
            }
            Some(spectrum)
        })
        .collect()
}

/// The bend, if there is one and it explains what the sums leave over. `plain` are the sums without.
pub(super) fn bend(
    plain: &[Option<SumFit>],
    feeds: &[Option<Path>; 2],
    takes: &Takes,
    references: &References,
) -> Option<Bend> {
    let [Some(one), Some(two)] = feeds else { return None };
    let cubes = cubes(feeds, [one, two], references);
    let straight: Vec<Option<SumFit>> = (0..FITTED_STEPS)
        .map(|step| sums::fit(step, feeds, takes, references, Some(&cubes)))
        .collect();
    // Where it shows most.
    let step = [2, 4, 5, 6].into_iter().find(|&step| {
        straight[step].is_some_and(|sum| sum.bend.is_some() && sum.shares[0].is_some())
    })?;
    let (before, after) = (plain[step]?, straight[step]?);
    let (share, error) = after.bend?;
    let floor = NOISES[usize::from(step > 2)]
        * takes.floor
        * references.bins(super::GAIN_RANGE_HZ).len() as f64;
    let noise = floor / after.power;
    let explained = (before.left_ratio - after.left_ratio) / (before.left_ratio - noise).max(0.0);
    let is_soft = explained >= LEAST_EXPLAINED && -share > CERTAIN * error;
    is_soft.then(|| {
        let harmonic = |bent: f64| bent / 4.0 / (1.0 - 0.75 * bent);
        Bend { third_harmonic: harmonic(-share), error: error / 4.0, sums: straight }
    })
}
