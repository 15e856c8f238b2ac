//! What the mixer made of each feed: gain, delay and response, and how well the steps in which both
//! feeds play follow from those in which one does.
//!
//! The noises are known to the sample, so this is a fit, not a statistic. The steps are taken at full
//! length, with the silence behind them, and so with a path's whole response; what is linear is then
//! the same in all of them and drops out ([`takes`], [`sums`]). Steps that were not heard are done
//! without where others tell the same.

mod bend;
mod edge;
mod null;
mod references;
mod regression;
mod response;
mod steadiness;
mod sums;
mod takes;
mod turns;

use std::f64::consts::TAU;

use realfft::num_complex::Complex32;

use super::schedule::{Schedule, Sound};
pub(super) use bend::Bend;
pub(super) use null::{Cancelled, Null, Unlike};
pub(super) use references::{References, references};
pub(super) use response::Path;
pub(super) use steadiness::Unsteadiness;
pub(super) use sums::{SumFit, SumGain};
use takes::{Noise, Takes, part};

/// Steps that a fit is made for: the first seven.
pub(super) const FITTED_STEPS: usize = 7;
/// Gains are taken over this range, in Hz: what every mixer passes.
pub(super) const GAIN_RANGE_HZ: (f64, f64) = (250.0, 16_000.0);
/// A feed this far below the other is missing: 40 dB, as a ratio.
pub(super) const MISSING_RATIO: f64 = 0.01;
/// 20·log10(e): decibels of a small relative error of an amplitude.
const DB_PER_AMPLITUDE: f64 = 8.685_889_638;
/// Share of a bin's noise power that a fit through many bins feels: half of it lies across the
/// signal, and bins that stand closer than the step is long are not quite independent.
const NOISE_SHARE: f64 = 0.75;

/// Everything that the fits say.
#[derive(Debug, Clone)]
pub(super) struct Paths {
    /// From each feed to the recording; `None` for a feed that is not heard.
    pub feeds: [Option<Path>; 2],
    /// Whether the steps that were heard tell what each feed makes.
    pub is_known: [bool; 2],
    /// From feed 1's channel to feed 2's, whatever the bus does to both.
    pub relative: Option<Path>,
    /// By step, for the first seven; `None` where nothing is expected, or the paths cancel.
    pub sums: Vec<Option<SumFit>>,
    /// Step 4 with feed 2's part added, against feed 1's.
    pub opposite: Option<SumGain>,
    /// The bend that takes something from the sums or adds something to them, if it does so softly.
    pub bend: Option<Bend>,
    /// Step 4, where both feeds are heard.
    pub null: Option<Null>,
    /// What the channels differ in beside level and delay, where both feeds are heard.
    pub unlike: Option<Unlike>,
    /// Power, in the step that one feed plays alone, that does not come from the feed by a response
    /// that is smooth in frequency, over the feed's.
    pub unexplained_ratio: f64,
    /// Standard error of a gain, in dB, from the recording's noise.
    pub gain_error_db: f64,
    /// By how much a gain may be off, in dB, because noise follows the sound: what rounds or codes a
    /// sound with an error of this share of its power may take as much of the sound itself. What
    /// looks bent and may be rounded counts as well.
    pub following_error_db: f64,
    /// How the gain moves within the steps: the comparisons that can be made.
    pub unsteadiness: Vec<Unsteadiness>,
    /// Where the path ends, in Hz, if it does.
    pub upper_edge_hz: Option<f64>,
}

/// A gain off by less than this, in dB, needs no explanation.
const NOTHING_DB: f64 = 0.01;

/// Fits the paths to windows of the recording, one for each of the first seven steps; `None` for those
/// that were not heard; the recording's word steps by `code`, linear, 0 where it does not. `None` where
/// no feed's path follows from them.
pub(super) fn fit(
    windows: &[Option<Vec<f32>>],
    references: &References,
    code: f64,
) -> Option<Paths> {
    let takes = Takes::new(windows, references);
    let alone = [0, 1].map(|feed| {
        let (best, _) = takes.best(feed)?;
        Some(Path::fit(&references.a, &references.a, &best.spectrum, references))
    });
    let is_known = alone.each_ref().map(Option::is_some);
    let gains = alone.each_ref().map(|path| path.as_ref().map_or(0.0, |path| path.gain.abs()));
    let heard = [gains[0] > MISSING_RATIO * gains[1], gains[1] > MISSING_RATIO * gains[0]];
    let [one, two] = alone;
    let feeds = [one.filter(|_| heard[0]), two.filter(|_| heard[1])];
    // Feed 1 wherever it can be heard.
    let first = usize::from(feeds[0].is_none());
    let path = feeds[first].as_ref()?;
    let unexplained_ratio = unexplained_ratio(path, first, &takes, references)?;
    let relative = relative(&feeds, &takes, references);
    let sums: Vec<Option<SumFit>> =
        (0..FITTED_STEPS).map(|step| sums::fit(step, &feeds, &takes, references, &[])).collect();
    let bend = sums
        .iter()
        .flatten()
        .any(|sum| sum.is_off_by(NOTHING_DB))
        .then(|| bend::bend(&sums, &feeds, &takes, references))
        .flatten();
    // Samples rounded to few codes look bent by less than one.
    let rounding = bend.as_ref().filter(|(bend, _)| bend.most < code);
    let rounded_db = rounding.map_or(0.0, |(bend, _)| bend.of_sum_db);
    let bend = bend.filter(|(bend, _)| bend.most >= code);
    let null = relative.as_ref().and_then(|relative| null::null(&takes, relative, references));
    let opposite = match &feeds {
        [Some(one), Some(_)] => sums::opposite(one, &takes, references),
        _ => None,
    };
    // What a bend makes is no noise.
    let noise = match &bend {
        Some((bend, straight)) => noise(first, straight, &bend.sums, references)?,
        None => noise(first, &takes, &sums, references)?,
    };
    // A bend may make of one feed's path what is no smooth part of it.
    let modelled = feeds[0].as_ref().filter(|_| bend.is_none());
    let opposite_power = null.as_ref().map_or(0.0, |null| null.whole.left);
    let recorded = noise.following_ratio + clocks_power(references) * opposite_power;
    let unlike = relative
        .as_ref()
        .and_then(|relative| null::unlike(&takes, relative, modelled, recorded, references));
    let (best, other) = takes.best(first)?;
    let of_one_path: [&[Complex32]; 2] = [&best.spectrum, &other.unwrap_or(best).spectrum];
    let bins = references.bins(GAIN_RANGE_HZ).len() as f64;
    Some(Paths {
        upper_edge_hz: edge::upper_edge_hz(of_one_path, references),
        unsteadiness: unsteadiness(&takes, &feeds, references),
        feeds,
        is_known,
        relative,
        sums,
        opposite,
        bend: bend.map(|(bend, _)| bend),
        null,
        unlike,
        unexplained_ratio,
        gain_error_db: DB_PER_AMPLITUDE * (NOISE_SHARE * noise.ratio / bins).sqrt(),
        following_error_db: DB_PER_AMPLITUDE * noise.following_ratio + rounded_db,
    })
}

/// What two clocks, and the way between their samples, may leave of a delay, in frames.
pub(super) const CLOCKS_FRAMES: f64 = 0.02;

/// What that makes of a sound, in power over its own: a delay turns a bin's phase by ω, whose mean
/// square over the range of gains is a third of the highest's.
fn clocks_power(references: &References) -> f64 {
    (CLOCKS_FRAMES * TAU * GAIN_RANGE_HZ.1 / references.rate_hz).powi(2) / 3.0
}

/// From feed 1's channel to feed 2's.
fn relative(feeds: &[Option<Path>; 2], takes: &Takes, references: &References) -> Option<Path> {
    let [Some(path), Some(_)] = feeds else { return None };
    let ((one, again), (two, _)) = (takes.best(0)?, takes.best(1)?);
    let modelled = || path.applied(&references.a, references.size);
    let instrument = again.map_or_else(modelled, |take| take.spectrum.clone());
    Some(Path::fit(&instrument, &one.spectrum, &two.spectrum, references))
}

/// What of the recording is no feed's: from takes that differ, or from what a sum leaves over.
fn noise(
    feed: usize,
    takes: &Takes,
    sums: &[Option<SumFit>],
    references: &References,
) -> Option<Noise> {
    takes.noise(feed, references).or_else(|| {
        let least = sums.iter().flatten().map(|sum| sum.left_ratio).fold(f64::INFINITY, f64::min);
        least.is_finite().then(|| takes.noise_by_sum(feed, least, references))
    })
}

/// Where in the test the recorder's clock is as it was taken to be, in frames, and by which share it
/// runs longer: from how late step 3 comes against what is heard of both feeds in other steps.
pub(super) fn clock_excess(
    windows: &[Option<Vec<f32>>],
    schedule: &Schedule,
    references: &References,
) -> Option<(f64, f64)> {
    let heard = |step: usize| -> Option<(Vec<Complex32>, f64)> {
        let window = windows.get(step)?.as_ref()?;
        Some((references.spectrum(window), schedule.step_start_frames(step)? as f64))
    };
    let by = |noise: &[Complex32], heard: &[Complex32]| Path::fit(noise, noise, heard, references);
    let (a, b) = (&references.a, references.of(Sound::B)?.0);
    let paths = match (heard(0), heard(1)) {
        (Some((one, one_at)), Some((two, two_at))) => {
            [(by(a, &one), one_at), (by(a, &two), two_at)]
        }
        _ => {
            let (both, at) = heard(4)?;
            [(by(a, &both), at), (by(b, &both), at)]
        }
    };
    let [(one, one_at), (two, two_at)] = &paths;
    let (sum, sum_at) = heard(2)?;
    let weights = one.gain + two.gain;
    if one.gain * two.gain <= 0.0 {
        return None;
    }
    let made = one.applied(a, references.size).into_iter();
    let known: Vec<Complex32> =
        made.zip(two.applied(a, references.size)).map(|(one, two)| one + two).collect();
    let late = by(&known, &sum).delay_frames;
    let at = (one.gain * one_at + two.gain * two_at) / weights;
    Some((at, late / (sum_at - at)))
}

/// The gains of feed 1 and feed 2, linear, from windows as those of [`fit`].
pub(super) fn gains(windows: &[Option<Vec<f32>>], references: &References) -> Option<[f64; 2]> {
    let takes = Takes::new(windows, references);
    let gain = |feed: usize| {
        let (best, _) = takes.best(feed)?;
        Some(Path::fit(&references.a, &references.a, &best.spectrum, references).gain.abs())
    };
    Some([gain(0)?, gain(1)?])
}

/// How the gain moves in the steps that have something to be compared with.
fn unsteadiness(
    takes: &Takes,
    feeds: &[Option<Path>; 2],
    references: &References,
) -> Vec<Unsteadiness> {
    let sum = |x: &[Complex32], y: &[Complex32]| -> Vec<Complex32> {
        x.iter().zip(y).map(|(x, y)| x + y).collect()
    };
    let compared = |heard: &[Complex32], known: &[Complex32]| {
        steadiness::unsteadiness(heard, known, references)
    };
    let own = |path: &Path| path.applied(&references.a, references.size);
    let mut found = Vec::new();
    let alone = usize::from(feeds[0].is_none());
    if let (Some(path), Some(heard)) = (&feeds[alone], &takes.heard[alone]) {
        found.push(compared(heard, &own(path)));
    }
    let [Some(one), Some(two)] = feeds else { return found };
    // Where polarities cancel, there is no sum to be compared.
    if let Some(three) = takes.heard[2].as_ref().filter(|_| one.gain * two.gain > 0.0) {
        let known = match [0, 1].map(|feed| takes.without(feed, 2)) {
            [Some((one, _)), Some((two, _))] => sum(&one.spectrum, &two.spectrum),
            _ => sum(&own(one), &own(two)),
        };
        found.push(compared(three, &known));
    }
    if let Some((take, Some(again))) = takes.without(0, 3) {
        found.push(compared(&again.spectrum, &take.spectrum));
    }
    found
}

/// Power in the best take of a feed's path that no smooth response explains, over the feed's.
fn unexplained_ratio(
    path: &Path,
    feed: usize,
    takes: &Takes,
    references: &References,
) -> Option<f64> {
    let range = references.bins(GAIN_RANGE_HZ);
    let (best, _) = takes.best(feed)?;
    let predicted = part(&path.applied(&references.a, references.size), &range);
    let (mut left, mut power) = (0.0, 0.0);
    for (heard, predicted) in part(&best.spectrum, &range).iter().zip(&predicted) {
        left += (heard - predicted).norm_sqr();
        power += predicted.norm_sqr();
    }
    Some(left / power)
}
