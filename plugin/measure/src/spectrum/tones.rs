//! The strongest steady tones outside the audible band.
//!
//! A tone is a local maximum of the mean spectrum that stands out of what surrounds it and has the
//! shape of the window's lobe. Its level and frequency come from that lobe's top. Whatever could move
//! the level by half a decibel keeps a tone from being named: the noise around it, a neighbour closer
//! than the window can part, a stronger tone's side lobes, an image that the decimator lets through.
//! So a pair of close tones, or one that drifts or wavers quickly, is not named at all.

use super::analyser::Analyser;
use super::window::{self, LOBE_BINS};
use crate::level::Level;
use crate::reading::{MOST_TONES, Tone, Tones};
use crate::settings::Edges;

/// How far a tone has to stand above what surrounds it. The strongest of a few thousand bins of
/// plain noise stands 10 dB above their mean after a single transform, and less after more.
const LEAST_PROMINENCE: f64 = 15.85;
/// Weakest tone worth naming, as a power: −120 dBFS.
const LEAST_POWER: f64 = 1e-12;
/// Surroundings reach from just outside the lobe to this many bins away.
const SURROUNDINGS_BINS: usize = 20;
/// Mean of plain noise over its median: bins of one transform are distributed exponentially.
const MEAN_OVER_MEDIAN: f64 = 1.0 / std::f64::consts::LN_2;
/// Share of the edges from which the band filter takes more of a tone than it leaves: the middle of
/// its transitions.
const LOWER_MARGIN: f64 = 0.8;
const UPPER_MARGIN: f64 = 1.02;
/// Standard deviation of a tone's power in noise, as a share: four of them make half a decibel.
const MOST_SCATTER: f64 = 0.03;
/// How far the bins beside the top, and the next ones on the better side, may lie from the lobe of a
/// single tone, as shares of the top.
const MOST_BESIDE: f64 = 0.03;
const MOST_FURTHER: f64 = 0.0075;
/// Power of what a stronger tone leaves in a bin against that of a tone which it moves by 0.5 dB at
/// most: the amplitudes may add.
const MOST_LEAKAGE: f64 = 0.0035;
/// Bins between two tones from which one is known well enough to be taken out of the other.
const APART_BINS: f64 = 3.0;
/// Bins from a tone up to which stronger ones are fitted, rather than bounded.
const NEAR_BINS: usize = 12;

/// What the bins of the low spectrum hold of higher frequencies.
pub(crate) struct Images {
    /// Rate of the low spectrum, in Hz.
    pub(crate) rate_hz: f64,
    /// No less than the power that the decimator leaves of them.
    pub(crate) left: f64,
}

/// The strongest tones below the lower edge (from the transform at the low rate) and above the
/// upper edge, strongest first.
pub(crate) fn strongest_tones(
    low: &Analyser,
    full: &Analyser,
    images: &Images,
    edges: Edges,
) -> Tones {
    let mut found = [Line::default(); MOST_TONES];
    collect(&mut found, low, (0.0, edges.low_hz * LOWER_MARGIN), |line| {
        image_power(full, images, line.hz)
    });
    collect(&mut found, full, (edges.high_hz * UPPER_MARGIN, f64::INFINITY), |_| 0.0);
    let mut tones = Tones::default();
    for line in found {
        if line.power >= LEAST_POWER {
            tones.push(Tone { hz: line.hz, dbfs: Level::from_power(line.power) });
        }
    }
    tones
}

/// A tone by the top of its lobe.
#[derive(Debug, Clone, Copy, Default)]
struct Line {
    /// Mean square.
    power: f64,
    hz: f64,
    /// Frequency in bins.
    bins: f64,
}

/// Adds the tones between two frequencies to a list, strongest first; `images` says what else may
/// stand at a tone's place.
fn collect(
    found: &mut [Line; MOST_TONES],
    analyser: &Analyser,
    (low_hz, high_hz): (f64, f64),
    images: impl Fn(&Line) -> f64,
) {
    // The lobe of 0 Hz reaches over the first bins.
    let first = ((low_hz / analyser.bin_hz()).floor() as usize).max(LOBE_BINS + 1);
    let end = analyser.bins().saturating_sub(LOBE_BINS + 1);
    for bin in first..end {
        if bin as f64 * analyser.bin_hz() > high_hz + analyser.bin_hz() {
            break;
        }
        let Some(line) = tone_at(analyser, bin) else { continue };
        let is_outside = line.hz > low_hz && line.hz < high_hz;
        let weakest = found[MOST_TONES - 1].power.max(LEAST_POWER);
        if is_outside
            && line.power > weakest
            && leakage(analyser, bin, &line) + images(&line) <= MOST_LEAKAGE * line.power
        {
            found[MOST_TONES - 1] = line;
            found.sort_unstable_by(|x, y| y.power.total_cmp(&x.power));
        }
    }
}

/// The single steady tone that peaks at `bin`, if one does. Works on sums over all transforms: a
/// division a bin would cost more than the rest of the search.
fn tone_at(analyser: &Analyser, bin: usize) -> Option<Line> {
    let [before, here, behind] = [bin - 1, bin, bin + 1].map(|bin| analyser.sum(bin));
    if here < before || here <= behind {
        return None;
    }
    // Most bumps of plain noise fail this already, and the median below costs much more.
    let beside = [bin - LOBE_BINS - 1, bin + LOBE_BINS + 1].map(|bin| analyser.sum(bin));
    if here < LEAST_PROMINENCE * beside[0].min(beside[1]) {
        return None;
    }
    let floor = surroundings(analyser, bin);
    if here < LEAST_PROMINENCE * floor {
        return None;
    }
    let transforms = analyser.transforms() as f64;
    let scatter = (2.0 * floor / (here * transforms)).sqrt();
    if scatter > MOST_SCATTER {
        return None;
    }
    let (offset, top) = fitted([before, here, behind].map(|sum| (sum - floor).max(0.0)));
    let bins = bin as f64 + offset;
    // How far a bin beside the top lies from a lone tone's lobe, more than other tones explain.
    let unexplained = |step: isize| {
        let at = bin.saturating_add_signed(step);
        let expected = top * window::lobe(step as f64 - offset);
        let others: f64 = near_lines(analyser, bin)
            .filter(|(line, _)| (line - bins).abs() >= APART_BINS)
            .map(|(line, top)| (top * reach(line - at as f64)).sqrt())
            .sum();
        let explained = others * (others + 2.0 * expected.sqrt());
        (((analyser.sum(at) - floor).max(0.0) - expected).abs() - explained).max(0.0)
    };
    let beside = (unexplained(-1) + unexplained(1)) / here;
    let further = unexplained(-2).min(unexplained(2)) / here;
    if beside > MOST_BESIDE + 2.0 * scatter || further > MOST_FURTHER + 2.0 * scatter {
        return None;
    }
    Some(Line { power: top / transforms, hz: bins * analyser.bin_hz(), bins })
}

/// Where between the bins a lone tone peaks, from −0.5 to 0.5, and its power there, from the power of
/// its strongest bin and of the stronger one beside it.
fn fitted([before, here, behind]: [f64; 3]) -> (f64, f64) {
    let (mut low, mut high) = (0.0, 0.5);
    let next = before.max(behind);
    for _ in 0..24 {
        let offset = (low + high) / 2.0;
        // The further the tone lies towards the next bin, the more that one has of it.
        if next * window::lobe(offset) > here * window::lobe(1.0 - offset) {
            low = offset;
        } else {
            high = offset;
        }
    }
    let offset = (low + high) / 2.0;
    let top = here / window::lobe(offset);
    (if behind >= before { offset } else { -offset }, top)
}

/// Places, in bins, and powers of the local maxima near a bin, its own left out.
fn near_lines(analyser: &Analyser, bin: usize) -> impl Iterator<Item = (f64, f64)> {
    let near = bin.saturating_sub(NEAR_BINS)..(bin + NEAR_BINS + 1).min(analyser.bins() - 1);
    near.filter(move |other| other.abs_diff(bin) > 1).filter_map(|other| {
        let before = analyser.sum(if other == 0 { 1 } else { other - 1 });
        let (here, behind) = (analyser.sum(other), analyser.sum(other + 1));
        // 0 Hz is its own mirror.
        let is_top = (other == 0 || before <= here) && behind < here;
        is_top.then(|| {
            let (offset, top) = fitted([before, here, behind]);
            (other as f64 + offset, top)
        })
    })
}

/// No less than the power that a tone of unit power shows so many bins away.
fn reach(bins: f64) -> f64 {
    if bins.abs() < LOBE_BINS as f64 {
        window::lobe(bins).max(window::side_lobes(LOBE_BINS as f64))
    } else {
        window::side_lobes(bins)
    }
}

/// Power of the noise around a bin, its lobe left out: by the median, so that other tones nearby do
/// not count.
fn surroundings(analyser: &Analyser, bin: usize) -> f64 {
    let below = bin.saturating_sub(SURROUNDINGS_BINS).max(LOBE_BINS)..bin.saturating_sub(LOBE_BINS);
    let above = bin + LOBE_BINS + 1..(bin + SURROUNDINGS_BINS).min(analyser.bins());
    let mut sums = [0.0; 2 * SURROUNDINGS_BINS];
    let mut count = 0;
    for (slot, bin) in sums.iter_mut().zip(below.chain(above)) {
        *slot = analyser.sum(bin);
        count += 1;
    }
    if count == 0 {
        return 0.0;
    }
    let (_, median, _) = sums[..count].select_nth_unstable_by(count / 2, f64::total_cmp);
    *median * MEAN_OVER_MEDIAN
}

/// No less than the power that other tones may leave at a tone's top: those nearby by their fitted
/// lobes, those further away by a bound on the side lobes.
fn leakage(analyser: &Analyser, bin: usize, line: &Line) -> f64 {
    let near = near_lines(analyser, bin).map(|(other, top)| top * reach(other - line.bins));
    let far = (0..analyser.bins())
        .filter(|other| other.abs_diff(bin) > NEAR_BINS)
        .map(|other| analyser.sum(other) * window::side_lobes(other as f64 - line.bins));
    (near.fold(0.0, f64::max) + far.fold(0.0, f64::max)) / analyser.transforms() as f64
}

/// No less than the power that the decimator leaves, at `hz` of the low spectrum, of everything that
/// folds down to there.
fn image_power(full: &Analyser, images: &Images, hz: f64) -> f64 {
    let end_hz = full.bins() as f64 * full.bin_hz();
    let mut power = 0.0;
    let mut fold_hz = images.rate_hz;
    while fold_hz - hz < end_hz {
        for image_hz in [fold_hz - hz, fold_hz + hz] {
            let reach_hz = (LOBE_BINS + 1) as f64 * full.bin_hz();
            let bins = full.bins_between(image_hz - reach_hz, image_hz + reach_hz);
            power += bins.map(|bin| full.mean(bin)).fold(0.0, f64::max);
        }
        fold_hz += images.rate_hz;
    }
    power * images.left
}
