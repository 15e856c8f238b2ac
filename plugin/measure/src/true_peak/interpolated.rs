//! The maximum of the band-limited interpolation, found by doubling the rate and looking closer
//! only where a new maximum can be.
//!
//! A signal that ends at a share f of the rate cannot rise far between its samples: near its largest
//! magnitude M it stays above M·cos(πf) for half a sample either way, and above M·cos(πf/2) for a quarter
//! (M. Riesz's comparison with a cosine of the band's highest frequency). So a batch whose samples all lie
//! below the first share of the maximum held so far is done without interpolation, and one whose points
//! two to a sample all lie below the second is done then. Neither are the tops of a [`steady`] tone looked
//! at again. Elsewhere each local maximum is fitted with a
//! sinusoid; only if the fit is poor and comes near the maximum held, or would raise it, seven more
//! points an eighth of a sample apart are worked out, and a parabola through the highest three.

mod fit;
mod steady;

use std::f64::consts::PI;

use pulp::{Arch, NullaryFnOnce};

use super::Shift;
use crate::batch::{BATCH_FRAMES, Batch};
use crate::fir;
use crate::peak::largest_of;
use fit::{FIT_SHORTFALL, Fit, SINUSOID_SHARE, may_top};
use steady::Steady;

/// Ripple of the interpolation, in decibels: 0.003 dB at 0.4535 of the rate with 24 taps a side.
const ATTENUATION_DB: f64 = 70.0;
/// Points a sample is divided into.
const PHASES: usize = 8;
/// The phase halfway between two samples.
const HALFWAY: usize = PHASES / 2;
/// What is added counts for nothing below this share of the peak held: 0.003 dB.
const NEGLIGIBLE: f32 = 3e-4;
/// What is left of the shares of a maximum that the nearest points show, since neither does a filter end
/// a band for good nor is the interpolation exact.
const SHARE_LEFT: f64 = 0.999;
/// A steady tone tops what is held where it does so by more than this share: 0.0004 dB.
const STEADY_RISE: f32 = 5e-5;
/// Longest history, in samples: both sides of the longest interpolator.
const MOST_HISTORY: usize = 48;
const MOST_TAPS: usize = 48;
/// Samples, and as many halfway points, that a scan passes over at once if none is high enough.
const SCAN_RUN: usize = 8;
/// A run of one or the other, and one more on either side.
type Around = [f32; SCAN_RUN + 2];
/// A point of the doubled rate with two on either side.
type Five = [f32; 5];
/// Halfway points: a batch's, and the last two of the batch before.
type Halfway = [f32; BATCH_FRAMES + 2];

/// Interpolates between samples with `REACH` taps on either side.
#[derive(Clone)]
pub(crate) struct Interpolator<const REACH: usize> {
    /// `phases[p][k]`: weight of sample k − REACH + 1 for the point p/8 behind sample 0.
    phases: [[f32; MOST_TAPS]; PHASES],
    /// Largest sum of magnitudes of the weights of one phase: no point can exceed the largest
    /// sample in reach by more.
    bound: f32,
    /// Least share of a maximum that the nearest sample shows.
    sample_share: f32,
    /// Least share of a maximum that the nearest of two points a sample shows.
    point_share: f32,
    /// `2·REACH` samples of history, then the batch.
    samples: [f32; MOST_HISTORY + BATCH_FRAMES],
    history_largest: f32,
    /// The halfway points of the batch that was looked at last.
    halfway: Halfway,
    /// Whether that is the batch before.
    knows_halfway: bool,
    /// Whether the batch before is not to be read: what lies before the next batch does not count.
    begins: bool,
    /// Since the stretch began that [`take_stretch`](Self::take_stretch) ends; and before it.
    held: f32,
    held_before: f32,
    shifted: Shifted,
    steady: Steady,
}

/// The same waveform with something slow added to it: where it tops out does not change, and by how
/// much it tops out does by what is added there.
#[derive(Clone)]
struct Shifted {
    /// What was added in the batch before, and in the one that is looked at.
    shifts: [Batch; 2],
    /// The largest magnitude of each.
    largest: [f32; 2],
    sign: f32,
    held: f32,
    /// Whether so little is added in this batch that what the waveform itself holds stands for it.
    follows: bool,
}

impl<const REACH: usize> Interpolator<REACH> {
    const TAPS: usize = 2 * REACH;

    /// For signals that end at `band_end`, as a share of the rate, at most a half.
    pub(crate) fn new(band_end: f64) -> Self {
        let beta = fir::kaiser_beta(ATTENUATION_DB);
        let mut phases = [[0.0; MOST_TAPS]; PHASES];
        let mut bound = 1.0;
        for (p, phase) in phases.iter_mut().enumerate() {
            let weight = |k: usize| {
                let t = k as f64 - (REACH as f64 - 1.0) - p as f64 / PHASES as f64;
                fir::sinc(t) * fir::kaiser(t / REACH as f64, beta)
            };
            let gain: f64 = (0..Self::TAPS).map(weight).sum();
            for (k, slot) in phase.iter_mut().take(Self::TAPS).enumerate() {
                *slot = (weight(k) / gain) as f32;
            }
            bound = f32::max(bound, phase.iter().map(|weight| weight.abs()).sum());
        }
        // Half a sample away from a maximum, or a quarter.
        let share = |away: f64| (SHARE_LEFT * (2.0 * PI * band_end * away).cos().max(0.0)) as f32;
        Self {
            phases,
            bound,
            sample_share: share(0.5),
            point_share: share(0.25),
            samples: [0.0; MOST_HISTORY + BATCH_FRAMES],
            history_largest: 0.0,
            halfway: [0.0; BATCH_FRAMES + 2],
            knows_halfway: false,
            begins: false,
            held: 0.0,
            held_before: 0.0,
            shifted: Shifted {
                shifts: [[0.0; BATCH_FRAMES]; 2],
                largest: [0.0; 2],
                sign: 1.0,
                held: 0.0,
                follows: false,
            },
            steady: Steady::UNKNOWN,
        }
    }

    pub(crate) fn reset(&mut self) {
        self.samples = [0.0; MOST_HISTORY + BATCH_FRAMES];
        self.history_largest = 0.0;
        self.knows_halfway = false;
        self.begins = false;
        self.let_go();
        self.shifted.shifts = [[0.0; BATCH_FRAMES]; 2];
        self.shifted.largest = [0.0; 2];
        self.steady = Steady::UNKNOWN;
    }

    pub(crate) fn held(&self) -> f32 {
        f32::max(self.held_before, self.held)
    }

    /// The largest magnitude of the stretch that ends here.
    pub(crate) fn take_stretch(&mut self) -> f32 {
        self.held_before = self.held();
        std::mem::take(&mut self.held)
    }

    /// The largest magnitude of the waveform with the shifts added.
    pub(crate) fn shifted_held(&self) -> f32 {
        self.shifted.held
    }

    /// Lets go of the largest magnitudes so far.
    pub(crate) fn let_go(&mut self) {
        (self.held, self.held_before) = (0.0, 0.0);
        self.shifted.held = 0.0;
    }

    /// Raises what is held with the shifts added to what was held elsewhere.
    pub(crate) fn raise_shifted(&mut self, held: f32) {
        self.shifted.held = self.shifted.held.max(held);
    }

    /// Raises what is held to what was held elsewhere.
    pub(crate) fn raise(&mut self, held: f32) {
        self.held_before = self.held_before.max(held);
    }

    /// Takes a batch that is not to be read; the waveform goes on from it.
    pub(crate) fn pass(&mut self, batch: &Batch) {
        self.append(batch);
        self.history_largest = largest_of(batch);
        self.knows_halfway = false;
        self.begins = true;
        self.steady.pass();
    }

    #[inline(always)]
    fn append(&mut self, batch: &Batch) {
        self.samples.copy_within(BATCH_FRAMES..BATCH_FRAMES + Self::TAPS, 0);
        self.samples[Self::TAPS..Self::TAPS + BATCH_FRAMES].copy_from_slice(batch);
    }

    /// Takes a batch of one signal, or of A, B and A + B; `shift` is added to A and to B for what is
    /// held shifted.
    pub(crate) fn take_all(
        signals: &mut [Self],
        arch: Arch,
        batches: &[&Batch],
        shift: Option<Shift>,
    ) {
        arch.dispatch(TakeAll { signals, batches, shift });
    }

    /// Takes a batch in, and says whether a point between samples could exceed what is held.
    #[inline(always)]
    fn push(&mut self, batch: &Batch, shift: Option<(&Batch, f32)>) -> bool {
        self.append(batch);
        let batch_largest = largest_of(batch);
        let largest_in_reach = f32::max(self.history_largest, batch_largest);
        // A batch is longer than the history, so nothing older can stay in reach.
        const { assert!(BATCH_FRAMES >= MOST_HISTORY) };
        self.history_largest = batch_largest;
        self.shifted.follows = self.shifted.held >= self.held() * (1.0 - NEGLIGIBLE);
        self.held = f32::max(self.held, batch_largest);
        if let Some((shift, sign)) = shift {
            self.shifted.take(shift, sign);
        }
        let may_exceed = self.may_exceed(largest_in_reach, shift.is_some());
        if !may_exceed {
            self.knows_halfway = false;
            self.begins = false;
        }
        may_exceed
    }

    /// Whether a point of the batch could exceed what is held. Nothing in reach of it is larger than
    /// `largest_in_reach`.
    #[inline(always)]
    fn may_exceed(&mut self, largest_in_reach: f32, shifts: bool) -> bool {
        let least = self.sample_share * self.floor(shifts && !self.shifted_follows());
        let may_exceed = largest_in_reach >= least
            && self.is_exceeded_by(largest_in_reach * self.bound, 0.0, shifts)
            && (least == 0.0 || self.largest_nearby() >= least);
        if !may_exceed {
            self.steady.pass();
            return false;
        }
        let samples = &self.samples[..Self::TAPS + BATCH_FRAMES];
        let bound = self.steady.bound(samples, REACH - 1, largest_in_reach);
        let may_exceed = self.is_exceeded_by(bound, STEADY_RISE, shifts);
        if may_exceed {
            self.steady.improve(&self.samples[..Self::TAPS + BATCH_FRAMES]);
        } else {
            self.steady.keep();
        }
        may_exceed
    }

    /// Whether points up to `bound` would exceed what is held by more than the share `rise`.
    #[inline(always)]
    fn is_exceeded_by(&self, bound: f32, rise: f32, shifts: bool) -> bool {
        bound > self.held * (1.0 + rise)
            || shifts
                && bound + self.shifted.largest_shift() > self.shifted.held * (1.0 + rise)
                && !(self.shifted_follows() && bound <= self.held * (1.0 + rise))
    }

    /// The largest of the samples that a point of the batch can be nearest to.
    #[inline(always)]
    fn largest_nearby(&self) -> f32 {
        let near: &Batch =
            self.samples[REACH..].first_chunk().expect("a batch lies behind the history");
        let outer = [self.samples[REACH - 1], self.samples[REACH + BATCH_FRAMES]];
        f32::max(largest_of(near), f32::max(outer[0].abs(), outer[1].abs()))
    }

    /// Whether so little is added that what the waveform itself holds stands for it shifted.
    #[inline(always)]
    fn shifted_follows(&self) -> bool {
        self.shifted.follows && self.shifted.largest_shift() <= NEGLIGIBLE * self.held()
    }

    /// Looks at the batch with its rate doubled: points at samples `REACH + j` and halfway behind.
    #[inline(always)]
    fn look(&mut self, shifts: bool) {
        // Where the batch before is not to be read, the first point is this batch's first sample.
        let first = if std::mem::take(&mut self.begins) { REACH } else { 0 };
        let largest_halfway = match first {
            0 => largest_of(&self.halfway[2..]),
            _ => largest_of(&self.halfway[2 + first..]),
        };
        self.held = f32::max(self.held, largest_halfway);
        let follows = self.shifted_follows();
        let looks_shifted = shifts && !follows;
        self.scan(first, looks_shifted);
        if shifts && follows {
            self.shifted.held = f32::max(self.shifted.held, self.held());
        }
    }

    /// Keeps the last two halfway points of the batch before.
    #[inline(always)]
    fn keep_halfway(&mut self) {
        let before = [self.halfway[BATCH_FRAMES], self.halfway[BATCH_FRAMES + 1]];
        // Of the last but one nothing is asked but whether a sinusoid meets it.
        let before =
            if self.knows_halfway { before } else { [0.0, self.point(REACH - 1, HALFWAY)] };
        self.halfway[..2].copy_from_slice(&before);
        self.knows_halfway = true;
    }

    /// Works the halfway points of a batch out.
    #[inline(always)]
    fn interpolate_halfway(&mut self) {
        const BLOCK: usize = 32;
        self.keep_halfway();
        let weights = &self.phases[HALFWAY];
        for (block, points) in self.halfway[2..].as_chunks_mut::<BLOCK>().0.iter_mut().enumerate() {
            // The point behind sample REACH + j leans on samples j + 1 to j + 2·REACH. Weights are
            // the same on both sides, so samples are added in pairs first.
            let first = block * BLOCK + 1;
            let mut sums = [0.0; BLOCK];
            for (k, weight) in weights.iter().take(REACH).enumerate() {
                let near = &self.samples[first + k..][..BLOCK];
                let far = &self.samples[first + Self::TAPS - 1 - k..][..BLOCK];
                for i in 0..BLOCK {
                    sums[i] += weight * (near[i] + far[i]);
                }
            }
            *points = sums;
        }
    }

    /// No point of the waveform below this tops what is held, shifted or not.
    #[inline(always)]
    fn floor(&self, shifts: bool) -> f32 {
        if shifts { f32::min(self.held, self.shifted.least_unshifted()) } else { self.held }
    }

    /// Looks at each local maximum of the doubled rate that could top what is held, from the last
    /// halfway point of the batch before to the last sample but one of this; or from the sample
    /// `begin` in reach on, where that is not 0.
    #[inline(always)]
    fn scan(&mut self, begin: usize, shifts: bool) {
        for start in (0..BATCH_FRAMES).step_by(SCAN_RUN) {
            let floor = self.floor(shifts);
            let least = self.point_share * floor;
            let [h, s] = [around(&self.halfway, start), around(&self.samples, REACH - 1 + start)];
            if !reach(h, least) && !reach(s, least) {
                continue;
            }
            let [h, s] = [&{ *h }, &{ *s }];
            let by_halfway = [run(h, 0), run(s, 0), run(h, 1), run(s, 1), run(h, 2)];
            let by_sample = [run(s, 0), run(h, 1), run(s, 1), run(h, 2), run(s, 2)];
            if !may_top(by_halfway, floor, least) && !may_top(by_sample, floor, least) {
                continue;
            }
            for i in 0..SCAN_RUN {
                let place = 2 * (start + i + 1);
                for (of_place, runs) in [by_halfway, by_sample].into_iter().enumerate() {
                    let place = place + of_place;
                    let five = runs.map(|run| run[i]);
                    let passed_over = begin > 0 && place < 2 * begin + 3;
                    if !passed_over && is_local_maximum(&five, least) {
                        self.look_at(&five, place, shifts);
                    }
                }
            }
        }
    }

    /// Looks at the local maximum in the middle of five points of the doubled rate, which is the one
    /// `place` behind the last halfway point but one of the batch before.
    #[inline(always)]
    fn look_at(&mut self, points: &Five, place: usize, shifts: bool) {
        let [outer_before, before, here, behind, outer_behind] = *points;
        let fit = Fit::through(before, here, behind);
        let most = fit.top * FIT_SHORTFALL;
        // Points 3, 5… are the samples REACH, REACH + 1… of which REACH are the batch's before.
        let frame = place.div_ceil(2) + BATCH_FRAMES - REACH - 2;
        let shift = if shifts { self.shifted.at(frame) * here.signum() } else { 0.0 };
        let may_top = most > self.held;
        let may_top_shifted = shifts && most + shift > self.shifted.held;
        if !may_top && !may_top_shifted {
            return;
        }
        let outer_sum = 2.0 * here * (2.0 * fit.cosine * fit.cosine - 1.0);
        let outer_rise = 2.0 * fit.cosine * (behind - before);
        let near = SINUSOID_SHARE * fit.top;
        // A negative cosine would be a frequency above half the rate.
        let is_sinusoid = fit.cosine >= 0.0
            && (outer_before + outer_behind - outer_sum).abs() <= near
            && (outer_behind - outer_before - outer_rise).abs() <= near;
        // Points 1, 3, 5… are the samples REACH − 1, REACH, REACH + 1…
        let eighths = (REACH - 1) * PHASES + (place - 1) * HALFWAY;
        let top =
            if is_sinusoid { fit.top } else { self.look_closer(eighths, [before, here, behind]) };
        if may_top {
            self.held = self.held.max(top);
        }
        if may_top_shifted {
            self.shifted.held = self.shifted.held.max(top + shift);
        }
    }

    /// The maximum around the point `eighths` behind the first sample, whose value and neighbours'
    /// half a sample away are `around`.
    #[inline(always)]
    fn look_closer(&self, eighths: usize, around: [f32; 3]) -> f32 {
        // Magnitudes from half a sample before to half a sample behind.
        let mut points = [0.0; PHASES + 1];
        points[0] = around[0].abs();
        points[HALFWAY] = around[1].abs();
        points[PHASES] = around[2].abs();
        for (offset, point) in points.iter_mut().enumerate() {
            if !offset.is_multiple_of(HALFWAY) {
                let place = eighths + offset - HALFWAY;
                *point = self.point(place / PHASES, place % PHASES).abs();
            }
        }
        let mut highest = 0.0;
        for three in points.windows(3) {
            if three[1] >= three[0] && three[1] >= three[2] {
                let top = Fit::through(three[0], three[1], three[2]).top;
                highest = f32::max(highest, top);
            }
        }
        highest
    }

    /// The waveform `phase`/8 behind `sample`.
    #[inline(always)]
    fn point(&self, sample: usize, phase: usize) -> f32 {
        let reach = &self.samples[sample + 1 - REACH..][..Self::TAPS];
        let weights = &self.phases[phase][..Self::TAPS];
        let mut lanes = [0.0; 8];
        for (x, w) in reach.as_chunks::<8>().0.iter().zip(weights.as_chunks::<8>().0) {
            for i in 0..8 {
                lanes[i] += x[i] * w[i];
            }
        }
        lanes.iter().sum()
    }
}

impl Shifted {
    /// Takes the next shift.
    #[inline(always)]
    fn take(&mut self, shift: &Batch, sign: f32) {
        self.shifts = [self.shifts[1], *shift];
        self.sign = sign;
        self.largest = [self.largest[1], largest_of(shift)];
    }

    /// The largest magnitude of what is added within reach.
    #[inline(always)]
    fn largest_shift(&self) -> f32 {
        f32::max(self.largest[0], self.largest[1])
    }

    /// No point of the waveform below this tops what is held, whatever is added.
    #[inline(always)]
    fn least_unshifted(&self) -> f32 {
        f32::max(self.held - self.largest_shift(), 0.0)
    }

    /// What is added at a frame, counted from the beginning of the batch before.
    #[inline(always)]
    fn at(&self, frame: usize) -> f32 {
        self.sign * self.shifts[frame / BATCH_FRAMES][frame % BATCH_FRAMES]
    }
}

/// A run of points that begins one behind `start`, with its neighbours.
#[inline(always)]
fn around(points: &[f32], start: usize) -> &Around {
    points[start..].first_chunk().expect("one more on either side")
}

/// As many points as a run has, from the one `start` on.
#[inline(always)]
fn run(around: &Around, start: usize) -> &[f32; SCAN_RUN] {
    around[start..].first_chunk().expect("one more on either side")
}

/// Whether a point in the middle is a local maximum from `least` up.
#[inline(always)]
fn is_local_maximum([_, before, here, behind, _]: &Five, least: f32) -> bool {
    let here = here.abs();
    here >= least && here >= before.abs() && here >= behind.abs()
}

/// Whether any point of a run is at least as high as `least`.
#[inline(always)]
fn reach(around: &Around, least: f32) -> bool {
    largest_of(&around[1..=SCAN_RUN]) >= least
}

struct TakeAll<'a, const REACH: usize> {
    signals: &'a mut [Interpolator<REACH>],
    batches: &'a [&'a Batch],
    shift: Option<Shift<'a>>,
}

impl<const REACH: usize> NullaryFnOnce for TakeAll<'_, REACH> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let mut known = [false; 3];
        for (index, batch) in self.batches.iter().enumerate() {
            let shift = self.shift.as_ref().and_then(|shift| shift.of(index));
            let shifts = shift.is_some();
            let (before, signals) = self.signals.split_at_mut(index);
            let Some(signal) = signals.first_mut() else { return };
            if !signal.push(batch, shift) {
                continue;
            }
            match before {
                // Interpolation is linear: where A and B are known, so is their sum.
                [a, b] if known[0] && known[1] => {
                    signal.keep_halfway();
                    for i in 2..BATCH_FRAMES + 2 {
                        signal.halfway[i] = a.halfway[i] + b.halfway[i];
                    }
                }
                _ => signal.interpolate_halfway(),
            }
            known[index] = true;
            signal.look(shifts);
        }
    }
}

#[cfg(test)]
mod tests;
