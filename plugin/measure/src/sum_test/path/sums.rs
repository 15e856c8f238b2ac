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
use super::takes::{Take, Takes, part};
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
    /// Shares of a bend's first two orders, and their standard errors, where they were fitted as well.
    pub bend: [Option<(f64, f64)>; 2],
    /// The whole step over the whole of what its parts make, where they were heard apart from it, and
    /// both feeds are in it.
    pub sum: Option<SumGain>,
}

/// Gain of a step in which both feeds play against what its parts make, added.
#[derive(Debug, Clone, Copy)]
pub(in crate::sum_test) struct SumGain {
    /// Linear: 1 is a perfect sum.
    pub gain: f64,
    /// Its standard error, from what the fit leaves over.
    pub error: f64,
}

impl SumGain {
    /// From one part, with its instrument.
    fn of(part: Part, heard: &[Complex64], references: &References) -> Option<Self> {
        let fitted = shares(&[part], heard, references.bins_in(CLUSTER_HZ))?;
        Some(Self { gain: fitted.shares[0], error: fitted.errors[0] })
    }
}

impl SumFit {
    /// Whether a share, or the gain of the loudest samples, is off by more than this, in dB.
    pub fn is_off_by(&self, db: f64) -> bool {
        let shares = self.shares.into_iter().flatten();
        shares.map(|share| DB_PER_AMPLITUDE * share.abs().ln()).any(|off_db| off_db.abs() > db)
            || self.top_gain_db < -db
    }
}

/// What an order of a bend adds to the steps, as spectra by step; `Some` for every step.
pub(super) type Order = Vec<Option<Vec<Complex32>>>;

/// What a step is to be compared with.
struct Comparison {
    parts: Vec<Part>,
    heard: Vec<Complex64>,
    /// What both sides were multiplied by.
    factor: Option<Vec<Complex64>>,
    /// How many of the parts, the last ones, are what a bend adds to the step beyond what it adds to
    /// the others, by order.
    orders: usize,
    /// Whether the parts were heard apart from the step, so that shares can differ from 1.
    is_apart: bool,
}

/// Compares a step (index in [`STEPS`]) with what the paths make alone; `None` where nothing is
/// expected or heard, or the paths cancel. What the `orders` of a bend add is fitted as well.
pub(super) fn fit(
    step: usize,
    feeds: &[Option<Path>; 2],
    takes: &Takes,
    references: &References,
    orders: &[Order],
) -> Option<SumFit> {
    takes.heard[step].as_ref()?;
    let comparison = match feeds {
        [Some(one), Some(two)] if step == 2 || step == 3 => {
            match same(step, one, takes, references, orders) {
                Some(comparison) => comparison?,
                None if step == 2 => same_as_modelled([one, two], takes, references, orders)?,
                None => return None,
            }
        }
        [Some(one), Some(two)] if step > 3 => {
            different(step, [one, two], takes, references, orders)?
        }
        _ => alone(step, feeds, takes, references, orders)?,
    };
    let cluster_bins = references.bins_in(CLUSTER_HZ);
    let fitted = shares(&comparison.parts, &comparison.heard, cluster_bins)?;
    let linear = fitted.shares.len() - comparison.orders;
    let share = |feed: usize| {
        feeds[feed].as_ref().filter(|_| comparison.is_apart)?;
        Some(fitted.shares[feed.min(linear - 1)])
    };
    let worst = fitted.errors[..linear].iter().copied().fold(0.0, f64::max);
    let (top_gain_db, top_gain_error_db) =
        top_gain_db(step, feeds, &fitted.left, comparison.factor.as_deref(), references);
    let power = dot(&comparison.heard, &comparison.heard);
    let is_sum = orders.is_empty() && comparison.is_apart && feeds.iter().all(Option::is_some);
    let sum =
        is_sum.then(|| SumGain::of(together(&comparison.parts), &comparison.heard, references));
    Some(SumFit {
        sum: sum.flatten(),
        shares: [0, 1].map(share),
        share_error_db: DB_PER_AMPLITUDE * worst,
        top_gain_db,
        top_gain_error_db,
        left_ratio: dot(&fitted.left, &fitted.left) / power,
        bend: [linear, linear + 1]
            .map(|part| Some((*fitted.shares.get(part)?, fitted.errors[part]))),
    })
}

/// The parts, added.
fn together(parts: &[Part]) -> Part {
    let added = |of: fn(&Part) -> &[Complex64]| -> Vec<Complex64> {
        let mut parts = parts.iter().map(of);
        let mut sum = parts.next().map_or_else(Vec::new, <[Complex64]>::to_vec);
        for part in parts {
            sum.iter_mut().zip(part).for_each(|(sum, bin)| *sum += bin);
        }
        sum
    };
    Part { known: added(|part| &part.known), instrument: added(|part| &part.instrument) }
}

/// What step 4 makes with feed 2's part added, against feed 1's: opposite polarities leave nothing to
/// compare, so the scale is one feed's.
pub(super) fn opposite(path: &Path, takes: &Takes, references: &References) -> Option<SumGain> {
    const STEP: usize = 3;
    let range = references.bins(GAIN_RANGE_HZ);
    let (one, other) = takes.without(0, STEP)?;
    let (two, _) = takes.without(1, STEP)?;
    let left = takes.heard[STEP].as_ref()?;
    let heard: Vec<Complex64> = part(left, &range)
        .iter()
        .zip(part(&two.spectrum, &range))
        .map(|(left, two)| left + two)
        .collect();
    let known = part(&one.spectrum, &range);
    let instrument = instrument(other, path, references, &references.a);
    SumGain::of(Part { known, instrument }, &heard, references)
}

/// What an order of a bend adds to a step beyond what it adds to what the step is compared with, as a
/// part of it.
fn order_part(own: &[Complex64], known: Option<Vec<Complex64>>) -> Part {
    let known = known.map_or_else(
        || own.to_vec(),
        |known| own.iter().zip(known).map(|(own, known)| own - known).collect(),
    );
    Part { instrument: known.clone(), known }
}

/// The orders of a step that is compared with a straight path.
fn own_orders(step: usize, orders: &[Order], range: &Range<usize>) -> Vec<Part> {
    let own = orders.iter().filter_map(|order| order[step].as_ref());
    own.map(|own| order_part(&part(own, range), None)).collect()
}

/// Both feeds play the same, so only their sum can be compared. `Some(None)` where they cancel, and
/// `None` where no takes are left that hold nothing of the step.
#[expect(clippy::option_option, reason = "nothing to compare with is not the same as no sum")]
fn same(
    step: usize,
    path: &Path,
    takes: &Takes,
    references: &References,
    orders: &[Order],
) -> Option<Option<Comparison>> {
    let range = references.bins(GAIN_RANGE_HZ);
    let sign = if step == 2 { 1.0 } else { -1.0 };
    let (one, other) = takes.without(0, step)?;
    let (two, _) = takes.without(1, step)?;
    let sum = |one: &[Complex32], two: &[Complex32]| -> Vec<Complex64> {
        part(one, &range).iter().zip(part(two, &range)).map(|(one, two)| one + two * sign).collect()
    };
    let known = sum(&one.spectrum, &two.spectrum);
    let instrument = instrument(other, path, references, &references.a);
    let alone = part(&one.spectrum, &range);
    if dot(&instrument, &known) < CANCELS * dot(&instrument, &alone).abs() {
        return Some(None);
    }
    let heard = part(takes.heard[step].as_ref()?, &range);
    let mut parts = vec![Part { known, instrument }];
    parts.extend(orders.iter().filter_map(|order| {
        let known = sum(&one.made_of(order)?, &two.made_of(order)?);
        Some(order_part(&part(order[step].as_ref()?, &range), Some(known)))
    }));
    let orders = parts.len() - 1;
    Some(Some(Comparison { parts, heard, factor: None, orders, is_apart: true }))
}

/// Step 3 where all takes hold the step itself: against its own smoothed path, which tells nothing of
/// shares, but whether the loudest samples are missing.
fn same_as_modelled(
    feeds: [&Path; 2],
    takes: &Takes,
    references: &References,
    orders: &[Order],
) -> Option<Comparison> {
    const STEP: usize = 2;
    let range = references.bins(GAIN_RANGE_HZ);
    let [one, two] = feeds.map(|path| part(&path.applied(&references.a, references.size), &range));
    let known: Vec<Complex64> = one.iter().zip(&two).map(|(one, two)| one + two).collect();
    if dot(&one, &known) < CANCELS * dot(&one, &one) {
        return None;
    }
    let heard = part(takes.heard[STEP].as_ref()?, &range);
    let mut parts = vec![Part { instrument: known.clone(), known }];
    parts.extend(own_orders(STEP, orders, &range));
    let orders = parts.len() - 1;
    Some(Comparison { parts, heard, factor: None, orders, is_apart: false })
}

/// Another take as the instrument; where there is none, the smoothed path, in which little is left of
/// noise.
fn instrument(
    other: Option<&Take>,
    path: &Path,
    references: &References,
    noise: &[Complex32],
) -> Vec<Complex64> {
    let range = references.bins(GAIN_RANGE_HZ);
    match other {
        Some(take) => part(&take.spectrum, &range),
        None => part(&path.applied(noise, references.size), &range),
    }
}

/// Feed 2 plays another noise than alone.
fn different(
    step: usize,
    [path_one, path_two]: [&Path; 2],
    takes: &Takes,
    references: &References,
    orders: &[Order],
) -> Option<Comparison> {
    let range = references.bins(GAIN_RANGE_HZ);
    let (other, sign) = references.of(STEPS[step].feed_2)?;
    let (a, other) = (part(&references.a, &range), part(other, &range));
    // Bins in which both noises are small weigh no more than the others.
    let scales: Vec<f64> =
        a.iter().zip(&other).map(|(a, b)| (a.norm_sqr() + b.norm_sqr()).sqrt().recip()).collect();
    let scaled = |noise: &[Complex64], sign: f64| -> Vec<Complex64> {
        noise.iter().zip(&scales).map(|(bin, scale)| bin * (scale * sign)).collect()
    };
    let (a, other) = (scaled(&a, 1.0), scaled(&other, sign));
    let multiplied = |factor: &[Complex64], spectrum: &[Complex64]| -> Vec<Complex64> {
        factor.iter().zip(spectrum).map(|(factor, bin)| factor * bin).collect()
    };
    let times = |factor: &[Complex64], spectrum: &[Complex32]| -> Vec<Complex64> {
        multiplied(factor, &part(spectrum, &range))
    };
    let (one, one_again) = takes.without(0, step)?;
    let (two, two_again) = takes.without(1, step)?;
    let again = |take: Option<&Take>, path: &Path, factor: &[Complex64]| -> Vec<Complex64> {
        multiplied(factor, &instrument(take, path, references, &references.a))
    };
    let mut parts = vec![
        Part { known: times(&a, &one.spectrum), instrument: again(one_again, path_one, &a) },
        Part {
            known: times(&other, &two.spectrum),
            instrument: again(two_again, path_two, &other),
        },
    ];
    parts.extend(orders.iter().filter_map(|order| {
        let known = times(&a, &one.made_of(order)?);
        let theirs = times(&other, &two.made_of(order)?);
        let known = known.iter().zip(&theirs).map(|(one, two)| one + two).collect();
        Some(order_part(&times(&a, order[step].as_ref()?), Some(known)))
    }));
    let orders = parts.len() - 2;
    let heard = times(&a, takes.heard[step].as_ref()?);
    Some(Comparison { parts, heard, factor: Some(a), orders, is_apart: true })
}

/// One feed plays alone: there is nothing to compare it with but its own smoothed response.
fn alone(
    step: usize,
    feeds: &[Option<Path>; 2],
    takes: &Takes,
    references: &References,
    orders: &[Order],
) -> Option<Comparison> {
    let range = references.bins(GAIN_RANGE_HZ);
    let mut parts = Vec::new();
    for (path, sound) in feeds.iter().zip([STEPS[step].feed_1, STEPS[step].feed_2]) {
        let (Some(path), Some((noise, sign))) = (path, references.of(sound)) else { continue };
        let made = part(&path.applied(noise, references.size), &range);
        let known: Vec<Complex64> = made.into_iter().map(|bin| bin * sign).collect();
        parts.push(Part { instrument: known.clone(), known });
    }
    (parts.len() == 1).then_some(())?;
    parts.extend(own_orders(step, orders, &range));
    let orders = parts.len() - 1;
    let heard = part(takes.heard[step].as_ref()?, &range);
    Some(Comparison { parts, heard, factor: None, orders, is_apart: true })
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
