//! The strongest steady tones outside the audible band.
//!
//! A tone is a local maximum of the mean spectrum that stands out of what surrounds it and has the
//! shape of the window's lobe. Its level and frequency come from that lobe's top. Whatever could move
//! the level by half a decibel keeps a tone from being named: the noise around it, a neighbour closer
//! than the window can part, a stronger tone's side lobes, an image that the decimator lets through.
//! So a pair of close tones, or one that drifts or wavers quickly, is not named at all.

use std::ops::Range;

use super::analyser::Analyser;
use super::stages::Stages;
use super::window::{self, LOBE_BINS};
use crate::highest::highest;
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
/// No more than the share of a tone's power that its strongest bin shows.
const LEAST_TOP: f64 = 0.82;
/// Bins that are asked at once whether they may be a top.
const RUN_BINS: usize = 32;
/// Bins that one stage looks through.
const BINS_A_STAGE: usize = 512;

/// What the bins of the low spectrum hold of higher frequencies.
pub(crate) struct Images {
    /// Rate of the low spectrum, in Hz.
    pub(crate) rate_hz: f64,
    /// No less than the power that the decimator leaves of them.
    pub(crate) left: f64,
}

/// What tones are looked for in: the transform at the low rate below the lower edge, the one at the
/// full rate above the upper edge.
pub(crate) struct Sought<'a> {
    pub(crate) low: &'a Analyser,
    pub(crate) full: &'a Analyser,
    pub(crate) images: Images,
    pub(crate) edges: Edges,
}

impl Sought<'_> {
    fn below_hz(&self) -> (f64, f64) {
        (0.0, self.edges.low_hz() * LOWER_MARGIN)
    }

    fn above_hz(&self) -> (f64, f64) {
        (self.edges.high_hz() * UPPER_MARGIN, f64::INFINITY)
    }
}

/// A search for the strongest tones, in stages.
#[derive(Default)]
pub(crate) struct ToneSearch {
    /// Strongest first.
    found: [Line; MOST_TONES],
    /// Bins of the two transforms.
    below: Stages,
    above: Stages,
}

impl ToneSearch {
    /// A search that begins.
    pub(crate) fn new(sought: &Sought<'_>) -> Self {
        let mut search = Self::default();
        search.below.begin_at(bins(sought.low, sought.below_hz()));
        search.above.begin_at(bins(sought.full, sought.above_hz()));
        search
    }

    /// Does the next stage, and says whether the search is over.
    pub(crate) fn advance(&mut self, sought: &Sought<'_>) -> bool {
        let found = &mut self.found;
        if !self.below.are_done() {
            let images = |line: &Line| image_power(sought.full, &sought.images, line.hz);
            collect(found, &mut self.below, sought.low, sought.below_hz(), images);
        } else {
            collect(found, &mut self.above, sought.full, sought.above_hz(), |_| 0.0);
        }
        self.below.are_done() && self.above.are_done()
    }

    /// What the search that is over found, strongest first.
    pub(crate) fn tones(&self) -> Tones {
        let mut tones = Tones::default();
        for line in self.found.iter().filter(|line| line.power >= LEAST_POWER) {
            tones.push(Tone { hz: line.hz, dbfs: Level::from_power(line.power) });
        }
        tones
    }
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

/// The bins at which tones between two frequencies may peak.
fn bins(analyser: &Analyser, (low_hz, high_hz): (f64, f64)) -> Range<usize> {
    if analyser.transforms() == 0 {
        return 0..0;
    }
    // The lobe of 0 Hz reaches over the first bins.
    let first = ((low_hz / analyser.bin_hz()).floor() as usize).max(LOBE_BINS + 1);
    let last = (high_hz / analyser.bin_hz()).floor() as usize;
    let end = analyser.bins().saturating_sub(LOBE_BINS + 1);
    first..end.min(last.saturating_add(2))
}

/// Adds the tones of a stage, of those between two frequencies, to a list, strongest first; `images`
/// says what else may stand at a tone's place. What stands out is looked at closely, one a stage.
fn collect(
    found: &mut [Line; MOST_TONES],
    stages: &mut Stages,
    analyser: &Analyser,
    (low_hz, high_hz): (f64, f64),
    images: impl Fn(&Line) -> f64,
) {
    let Some(top) = Top::first(analyser, stages.take(BINS_A_STAGE)) else { return };
    stages.go_on_from(top.bin + 1);
    let near = NearLines::of(analyser, top.bin);
    let Some(line) = top.lone_tone(analyser, &near) else { return };
    let is_outside = line.hz > low_hz && line.hz < high_hz;
    let weakest = found[MOST_TONES - 1].power.max(LEAST_POWER);
    if is_outside
        && line.power > weakest
        && leakage(analyser, &near, top.bin, &line) + images(&line) <= MOST_LEAKAGE * line.power
    {
        found[MOST_TONES - 1] = line;
        found.sort_unstable_by(|x, y| y.power.total_cmp(&x.power));
    }
}

/// A local maximum that stands out of what surrounds it. Works on sums over all transforms: a division
/// a bin would cost more than the rest of the search.
struct Top {
    bin: usize,
    /// What surrounds it.
    floor: f64,
    /// Standard deviation of its power, as a share.
    scatter: f64,
}

impl Top {
    /// The first at some bins, if there is one.
    fn first(analyser: &Analyser, mut bins: Range<usize>) -> Option<Self> {
        let sums = analyser.sums();
        let least = LEAST_TOP * LEAST_POWER * analyser.transforms() as f64;
        while !bins.is_empty() {
            let run = bins.start..bins.end.min(bins.start + RUN_BINS);
            bins.start = run.end;
            // All of a run are asked at once, since what noise answers one by one cannot be foretold.
            let around = &sums[run.start - LOBE_BINS - 1..run.end + LOBE_BINS + 1];
            if may_have_top(around, least)
                && let Some(top) = run.into_iter().find_map(|bin| Self::at(analyser, bin))
            {
                return Some(top);
            }
        }
        None
    }

    /// The one at `bin`, if it is one.
    fn at(analyser: &Analyser, bin: usize) -> Option<Self> {
        let sums = analyser.sums();
        let transforms = analyser.transforms() as f64;
        let around = &sums[bin - LOBE_BINS - 1..bin + LOBE_BINS + 2];
        if !may_have_top(around, LEAST_TOP * LEAST_POWER * transforms) {
            return None;
        }
        let here = sums[bin];
        let floor = surroundings(sums, bin);
        let scatter = (2.0 * floor / (here * transforms)).sqrt();
        let stands_out = here >= LEAST_PROMINENCE * floor && scatter <= MOST_SCATTER;
        stands_out.then_some(Self { bin, floor, scatter })
    }

    /// The single steady tone that peaks here, if one does.
    fn lone_tone(&self, analyser: &Analyser, near: &NearLines) -> Option<Line> {
        let &Self { bin, floor, scatter } = self;
        let sums = analyser.sums();
        let above_floor = |bin: usize| (sums[bin] - floor).max(0.0);
        let (offset, top) = fitted([bin - 1, bin, bin + 1].map(above_floor));
        let bins = bin as f64 + offset;
        // How far a bin beside the top lies from a lone tone's lobe, more than other tones explain.
        let unexplained = |away: isize| {
            let at = bin.saturating_add_signed(away);
            let expected = top * window::lobe(away as f64 - offset);
            let others: f64 = near
                .iter()
                .filter(|(line, _)| (line - bins).abs() >= APART_BINS)
                .map(|(line, top)| (top * reach(line - at as f64)).sqrt())
                .sum();
            let explained = others * (others + 2.0 * expected.sqrt());
            ((above_floor(at) - expected).abs() - explained).max(0.0)
        };
        let here = sums[bin];
        let beside = (unexplained(-1) + unexplained(1)) / here;
        let further = unexplained(-2).min(unexplained(2)) / here;
        let is_lone =
            beside <= MOST_BESIDE + 2.0 * scatter && further <= MOST_FURTHER + 2.0 * scatter;
        let power = top / analyser.transforms() as f64;
        is_lone.then(|| Line { power, hz: bins * analyser.bin_hz(), bins })
    }
}

/// Whether any of some bins, given with as many more on either side as a lobe has and another, may be a top:
/// a local maximum from `least` up, below which no tone can come of it, that stands out of what lies
/// just outside its lobe. Most bumps of plain noise do not, and the median of what surrounds them costs
/// much more.
#[inline]
fn may_have_top(around: &[f64], least: f64) -> bool {
    let count = around.len() - 2 * (LOBE_BINS + 1);
    let [below, before, here, behind, above] =
        [0, LOBE_BINS, LOBE_BINS + 1, LOBE_BINS + 2, 2 * (LOBE_BINS + 1)]
            .map(|from| &around[from..][..count]);
    let mut any = false;
    for i in 0..count {
        let lower = if below[i] < above[i] { below[i] } else { above[i] };
        any |= (here[i] >= before[i])
            & (here[i] > behind[i])
            & (here[i] >= least)
            & (here[i] >= LEAST_PROMINENCE * lower);
    }
    any
}

/// Where between the bins a lone tone peaks, from −0.5 to 0.5, and its power there, from the power of
/// its strongest bin and of the stronger one beside it.
fn fitted([before, here, behind]: [f64; 3]) -> (f64, f64) {
    let offset = window::offset(here, before.max(behind));
    let top = here / window::lobe(offset);
    (if behind >= before { offset } else { -offset }, top)
}

/// The local maxima near a bin, its own left out.
struct NearLines {
    /// Places, in bins, and powers.
    lines: [(f64, f64); NEAR_BINS],
    count: usize,
}

impl NearLines {
    fn of(analyser: &Analyser, bin: usize) -> Self {
        let sums = analyser.sums();
        let mut near = Self { lines: [(0.0, 0.0); NEAR_BINS], count: 0 };
        let reach = bin.saturating_sub(NEAR_BINS)..(bin + NEAR_BINS + 1).min(sums.len() - 1);
        for other in reach.filter(|other| other.abs_diff(bin) > 1) {
            let before = sums[if other == 0 { 1 } else { other - 1 }];
            let (here, behind) = (sums[other], sums[other + 1]);
            // 0 Hz is its own mirror.
            let is_top = (other == 0 || before <= here) && behind < here;
            if is_top {
                let (offset, top) = fitted([before, here, behind]);
                near.lines[near.count] = (other as f64 + offset, top);
                near.count += 1;
            }
        }
        near
    }

    fn iter(&self) -> impl Iterator<Item = (f64, f64)> {
        self.lines[..self.count].iter().copied()
    }
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
fn surroundings(sums: &[f64], bin: usize) -> f64 {
    let below = bin.saturating_sub(SURROUNDINGS_BINS).max(LOBE_BINS)..bin.saturating_sub(LOBE_BINS);
    let above = bin + LOBE_BINS + 1..(bin + SURROUNDINGS_BINS).min(sums.len());
    let mut around = [0.0; 2 * SURROUNDINGS_BINS];
    let mut count = 0;
    for (slot, bin) in around.iter_mut().zip(below.chain(above)) {
        *slot = sums[bin];
        count += 1;
    }
    if count == 0 {
        return 0.0;
    }
    let (_, median, _) = around[..count].select_nth_unstable_by(count / 2, f64::total_cmp);
    *median * MEAN_OVER_MEDIAN
}

/// No less than the power that other tones may leave at a tone's top: those nearby by their fitted
/// lobes, those further away by a bound on the side lobes.
fn leakage(analyser: &Analyser, near: &NearLines, bin: usize, line: &Line) -> f64 {
    let sums = analyser.sums();
    let near = near.iter().map(|(other, top)| top * reach(other - line.bins)).fold(0.0, f64::max);
    let below = 0..bin.saturating_sub(NEAR_BINS);
    let above = (bin + NEAR_BINS + 1).min(sums.len())..sums.len();
    let [below, above] = [below, above].map(|far| {
        let away = far.start as f64 - line.bins;
        highest(&sums[far], |index, sum| sum * window::side_lobes(away + index as f64))
    });
    (near + below.max(above)) / analyser.transforms() as f64
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
            power += full.strongest_mean(bins);
        }
        fold_hz += images.rate_hz;
    }
    power * images.left
}
