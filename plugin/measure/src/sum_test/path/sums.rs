//! How a step in which both feeds play compares with the sum of what the bus made of each alone.
//!
//! The steps are compared with each other and not with a model of the path. Step 3 has to be step 1
//! plus step 2, sample by sample, whatever the bus does to a sound, as long as it is linear. Where
//! feed 2 plays another noise than alone, its path would have to be divided out of step 2; instead
//! both sides are multiplied by feed 2's noises (B times what A became is A times what B became), so
//! that nothing is divided by the small bins of a noise.

use std::ops::Range;

use realfft::num_complex::{Complex32, Complex64};

use super::GAIN_RANGE_HZ;
use super::references::References;
use super::regression::{Part, dot, shares};
use super::response::{Path, narrow};
use super::takes::{Takes, part};
use crate::sum_test::schedule::STEPS;

/// 20·log10(e): decibels of a small relative error of an amplitude.
const DB_PER_AMPLITUDE: f64 = 8.685_889_638;
/// Where the loudest samples begin, as a share of the largest.
const KNEE: f32 = 0.8;
/// Paths that leave less than this share of one of them in a step's sum cancel there: −14 dB.
const CANCELS: f64 = 0.2;
/// Errors are summed in clusters of so many Hz: a codec's bands are not much wider.
const CLUSTER_HZ: f64 = 125.0;

/// How a step in which both feeds play compares with the sum of their paths.
#[derive(Debug, Clone, Copy)]
pub(in crate::sum_test) struct SumFit {
    /// Measured over predicted, for what feed 1 and feed 2 bring; one number where they play the
    /// same. 1 is a perfect sum. `None` for a feed that is missing.
    pub shares: [Option<f64>; 2],
    /// Standard error of a share, in dB, from what the fit leaves over.
    pub share_error_db: f64,
    /// Gain of the loudest samples against that of the others, in dB: 0 is linear.
    pub top_gain_db: f64,
    /// Its standard error, from what the fit leaves over.
    pub top_gain_error_db: f64,
    /// Power that the fit leaves over, over the step's.
    pub left_ratio: f64,
}

/// What a step is to be compared with.
struct Comparison {
    parts: Vec<Part>,
    heard: Vec<Complex64>,
    /// What both sides were multiplied by.
    factor: Option<Vec<Complex64>>,
}

/// Compares a step (index in [`STEPS`]) with what the paths make alone; `None` where nothing is
/// expected, or the paths cancel.
pub(super) fn fit(
    step: usize,
    feeds: &[Option<Path>; 2],
    takes: &Takes,
    references: &References,
) -> Option<SumFit> {
    let range = references.bins(GAIN_RANGE_HZ);
    let comparison = match feeds {
        [Some(_), Some(_)] if step == 2 || step == 3 => same(step, takes, &range)?,
        [Some(_), Some(_)] if step > 3 => different(step, takes, references, &range)?,
        _ => alone(step, feeds, takes, references, &range)?,
    };
    let cluster_bins = references.bins_in(CLUSTER_HZ);
    let fitted = shares(&comparison.parts, &comparison.heard, cluster_bins)?;
    let share = |feed: usize| {
        feeds[feed].as_ref()?;
        fitted.shares.get(feed).or(fitted.shares.first()).copied()
    };
    let worst = fitted.errors.iter().copied().fold(0.0, f64::max);
    let (top_gain_db, top_gain_error_db) =
        top_gain_db(step, feeds, &fitted.left, comparison.factor.as_deref(), references);
    let power = dot(&comparison.heard, &comparison.heard);
    Some(SumFit {
        shares: [0, 1].map(share),
        share_error_db: DB_PER_AMPLITUDE * worst,
        top_gain_db,
        top_gain_error_db,
        left_ratio: dot(&fitted.left, &fitted.left) / power,
    })
}

/// Both feeds play the same, so only their sum can be compared.
fn same(step: usize, takes: &Takes, range: &Range<usize>) -> Option<Comparison> {
    let sign = if step == 2 { 1.0 } else { -1.0 };
    let [one, two] = [0, 1].map(|alone| part(&takes.heard[alone], range));
    let known: Vec<Complex64> = one.iter().zip(&two).map(|(one, two)| one + two * sign).collect();
    let instrument = part(&takes.one[1], range);
    if dot(&instrument, &known) < CANCELS * dot(&instrument, &one).abs() {
        return None;
    }
    let heard = part(&takes.heard[step], range);
    Some(Comparison { parts: vec![Part { known, instrument }], heard, factor: None })
}

/// Feed 2 plays another noise than alone.
fn different(
    step: usize,
    takes: &Takes,
    references: &References,
    range: &Range<usize>,
) -> Option<Comparison> {
    let (other, sign) = references.of(STEPS[step].feed_2)?;
    let (a, other) = (part(&references.a, range), part(other, range));
    // Bins in which both noises are small weigh no more than the others.
    let scales: Vec<f64> =
        a.iter().zip(&other).map(|(a, b)| (a.norm_sqr() + b.norm_sqr()).sqrt().recip()).collect();
    let scaled = |noise: &[Complex64], sign: f64| -> Vec<Complex64> {
        noise.iter().zip(&scales).map(|(bin, scale)| bin * (scale * sign)).collect()
    };
    let (a, other) = (scaled(&a, 1.0), scaled(&other, sign));
    let times = |factor: &[Complex64], spectrum: &[Complex32]| -> Vec<Complex64> {
        factor.iter().zip(part(spectrum, range)).map(|(factor, bin)| factor * bin).collect()
    };
    let parts = vec![
        Part { known: times(&a, &takes.heard[0]), instrument: times(&a, &takes.one[0]) },
        Part { known: times(&other, &takes.heard[1]), instrument: times(&other, &takes.two) },
    ];
    let heard = times(&a, &takes.heard[step]);
    Some(Comparison { parts, heard, factor: Some(a) })
}

/// One feed plays alone: there is nothing to compare it with but its own smoothed response.
fn alone(
    step: usize,
    feeds: &[Option<Path>; 2],
    takes: &Takes,
    references: &References,
    range: &Range<usize>,
) -> Option<Comparison> {
    let mut parts = Vec::new();
    for (path, sound) in feeds.iter().zip([STEPS[step].feed_1, STEPS[step].feed_2]) {
        let (Some(path), Some((noise, sign))) = (path, references.of(sound)) else { continue };
        let made = part(&path.applied(noise, references.size), range);
        let known: Vec<Complex64> = made.into_iter().map(|bin| bin * sign).collect();
        parts.push(Part { instrument: known.clone(), known });
    }
    (parts.len() == 1).then_some(())?;
    Some(Comparison { parts, heard: part(&takes.heard[step], range), factor: None })
}

/// Gain of the loudest samples against that of the others, and its standard error, in decibels: from
/// how much of what lies beyond the knee is missing in what the fit leaves over.
///
/// What lies beyond the knee follows from the feeds, not from the recording, so that noise and
/// filters in the recording cannot pass for clipping.
fn top_gain_db(
    step: usize,
    feeds: &[Option<Path>; 2],
    left: &[Complex64],
    factor: Option<&[Complex64]>,
    references: &References,
) -> (f64, f64) {
    let range = references.bins(GAIN_RANGE_HZ);
    let bus = bus(step, feeds, references);
    let mut beyond = references.waveform(&bus);
    let largest = beyond.iter().fold(0f32, |held, x| held.max(x.abs()));
    let knee = KNEE * largest;
    for x in &mut beyond {
        *x -= x.clamp(-knee, knee);
    }
    let beyond = references.plain_spectrum(&mut beyond);
    let (bus, beyond) = (part(&bus, &range), part(&beyond, &range));
    // Only the part that no gain explains tells of a bend.
    let linear = dot(&bus, &beyond) / dot(&bus, &bus);
    let mut bend: Vec<Complex64> =
        beyond.iter().zip(&bus).map(|(beyond, bus)| beyond - bus * linear).collect();
    if let Some(factor) = factor {
        bend.iter_mut().zip(factor).for_each(|(bend, factor)| *bend *= factor);
    }
    let cluster_bins = references.bins_in(CLUSTER_HZ);
    let part = [Part { instrument: bend.clone(), known: bend }];
    let Some(fitted) = shares(&part, left, cluster_bins) else { return (0.0, f64::INFINITY) };
    let share = fitted.shares[0].clamp(-1.0, 1.0);
    let beyond = f64::from(1.0 - KNEE);
    (20.0 * (1.0 + share * beyond).log10(), DB_PER_AMPLITUDE * fitted.errors[0] * beyond)
}

/// What the feeds make on the bus in a step, by gains and delays alone.
fn bus(step: usize, feeds: &[Option<Path>; 2], references: &References) -> Vec<Complex32> {
    let mut spectrum = vec![Complex32::default(); references.a.len()];
    for (path, sound) in feeds.iter().zip([STEPS[step].feed_1, STEPS[step].feed_2]) {
        let (Some(path), Some((noise, sign))) = (path, references.of(sound)) else { continue };
        let turns = path.plain(0, references.size);
        for ((sum, noise), turn) in spectrum.iter_mut().zip(noise).zip(turns) {
            *sum += noise * narrow(turn * sign);
        }
    }
    spectrum
}
