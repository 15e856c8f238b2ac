//! What the mixer made of each feed: gain, delay and response, and how well the steps in which both
//! feeds play follow from those in which one does.
//!
//! The noises are known to the sample, so this is a fit, not a statistic. The steps are taken at full
//! length, with the silence behind them, and so with a path's whole response; what is linear is then
//! the same in all of them and drops out ([`takes`], [`sums`]).

mod edge;
mod null;
mod references;
mod regression;
mod response;
mod steadiness;
mod sums;
mod takes;
mod turns;

use realfft::num_complex::Complex32;

pub(super) use null::{Cancelled, Null};
pub(super) use references::{References, references};
pub(super) use response::Path;
pub(super) use steadiness::Unsteadiness;
pub(super) use sums::SumFit;
use takes::{Takes, part};

/// Steps that a fit is made for: the first seven.
pub(super) const FITTED_STEPS: usize = 7;
/// Gains are taken over this range, in Hz: what every mixer passes.
const GAIN_RANGE_HZ: (f64, f64) = (250.0, 16_000.0);
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
    /// From feed 1's channel to feed 2's, whatever the bus does to both.
    pub relative: Option<Path>,
    /// By step, for the first seven; `None` where nothing is expected, or the paths cancel.
    pub sums: Vec<Option<SumFit>>,
    /// Step 4, where both feeds are heard.
    pub null: Option<Null>,
    /// Power, in the step that one feed plays alone, that does not come from the feed by a response
    /// that is smooth in frequency, over the feed's.
    pub unexplained_ratio: f64,
    /// Standard error of a gain, in dB, from the recording's noise.
    pub gain_error_db: f64,
    /// By how much a gain may be off, in dB, because noise follows the sound: what rounds or codes a
    /// sound with an error of this share of its power may take as much of the sound itself.
    pub following_error_db: f64,
    /// How the gain moves within the steps: the comparisons that can be made.
    pub unsteadiness: Vec<Unsteadiness>,
    /// Where the path ends, in Hz, if it does.
    pub upper_edge_hz: Option<f64>,
}

/// Fits the paths to windows of the recording, one for each of the first seven steps.
pub(super) fn fit(windows: &[Vec<f32>], references: &References) -> Paths {
    let takes = Takes::new(windows, references);
    let alone =
        [0, 1].map(|step| Path::fit(&references.a, &references.a, &takes.heard[step], references));
    let gains = alone.each_ref().map(|path| path.gain.abs());
    let heard = [gains[0] > MISSING_RATIO * gains[1], gains[1] > MISSING_RATIO * gains[0]];
    let unexplained_ratio = unexplained_ratio(&alone, &takes, heard, references);
    let noise = takes.noise(heard[0], references);
    let [one, two] = alone;
    let feeds = [heard[0].then_some(one), heard[1].then_some(two)];
    let relative = (heard == [true, true])
        .then(|| Path::fit(&takes.one[0], &takes.heard[0], &takes.heard[1], references));
    let sums = (0..FITTED_STEPS).map(|step| sums::fit(step, &feeds, &takes, references)).collect();
    let null = relative.as_ref().map(|relative| null::null(&takes, relative, references));
    let bins = references.bins(GAIN_RANGE_HZ).len() as f64;
    let of_one_path: [&[Complex32]; 2] =
        if heard[0] { [&takes.heard[0], &takes.one[1]] } else { [&takes.heard[1], &takes.two] };
    Paths {
        upper_edge_hz: edge::upper_edge_hz(of_one_path, references),
        unsteadiness: unsteadiness(&takes, &feeds, references),
        feeds,
        relative,
        sums,
        null,
        unexplained_ratio,
        gain_error_db: DB_PER_AMPLITUDE * (NOISE_SHARE * noise.ratio / bins).sqrt(),
        following_error_db: DB_PER_AMPLITUDE * noise.following_ratio,
    }
}

/// The gains of feed 1 and feed 2, from windows of the steps in which each plays alone; linear.
pub(super) fn gains(windows: &[Vec<f32>; 2], references: &References) -> [f64; 2] {
    windows.each_ref().map(|window| {
        let heard = references.spectrum(window);
        Path::fit(&references.a, &references.a, &heard, references).gain.abs()
    })
}

/// How the gain moves in the steps that have another to be compared with.
fn unsteadiness(
    takes: &Takes,
    feeds: &[Option<Path>; 2],
    references: &References,
) -> Vec<Unsteadiness> {
    let sum = |x: usize, y: usize| -> Vec<Complex32> {
        takes.heard[x].iter().zip(&takes.heard[y]).map(|(x, y)| x + y).collect()
    };
    let compared = |heard: &[Complex32], known: &[Complex32]| {
        steadiness::unsteadiness(heard, known, references)
    };
    let mut found = Vec::new();
    let alone = usize::from(feeds[0].is_none());
    if let Some(path) = &feeds[alone] {
        let own = path.applied(&references.a, references.size);
        found.push(compared(&takes.heard[alone], &own));
    }
    if let [Some(one), Some(two)] = feeds {
        // Where polarities cancel, there is no sum to be compared.
        if one.gain * two.gain > 0.0 {
            found.push(compared(&takes.heard[2], &sum(0, 1)));
        }
        found.push(compared(&takes.one[1], &takes.heard[0]));
    }
    found
}

fn unexplained_ratio(
    paths: &[Path; 2],
    takes: &Takes,
    heard: [bool; 2],
    references: &References,
) -> f64 {
    let step = usize::from(!heard[0]);
    let range = references.bins(GAIN_RANGE_HZ);
    let predicted = part(&paths[step].applied(&references.a, references.size), &range);
    let (mut left, mut power) = (0.0, 0.0);
    for (heard, predicted) in part(&takes.heard[step], &range).iter().zip(&predicted) {
        left += (heard - predicted).norm_sqr();
        power += predicted.norm_sqr();
    }
    left / power
}
