//! The maximum of the band-limited interpolation, found by doubling the rate and looking closer
//! only where a new maximum can be.
//!
//! A signal that ends below half the rate cannot rise far between points two to a sample: near its
//! largest magnitude M it stays above M·cos(π/4) for a quarter of a sample either way (M. Riesz's
//! comparison with a cosine of the band's highest frequency). So a batch whose points all lie below
//! that share of the maximum held so far is done. Elsewhere each local maximum is fitted with a
//! sinusoid; only if the fit is poor and comes near the maximum held, or would raise it, seven more
//! points an eighth of a sample apart are worked out, and a parabola through the highest three.

mod fit;

use pulp::{Arch, NullaryFnOnce};

use super::Shift;
use crate::batch::{BATCH_FRAMES, Batch};
use crate::fir;
use fit::{FIT_SHORTFALL, Fit, SINUSOID_SHARE, may_top};

/// Ripple of the interpolation, in decibels: 0.003 dB at 0.4535 of the rate with 24 taps a side.
const ATTENUATION_DB: f64 = 70.0;
/// Points a sample is divided into.
const PHASES: usize = 8;
/// The phase halfway between two samples.
const HALFWAY: usize = PHASES / 2;
/// What is added counts for nothing below this share of the peak held: 0.003 dB.
const NEGLIGIBLE: f32 = 3e-4;
/// Least share of a maximum that the nearest of two points a sample shows: cos(π/4).
const NEAREST_POINT_SHARE: f32 = std::f32::consts::FRAC_1_SQRT_2;
/// Longest history, in samples: both sides of the longest interpolator.
const MOST_HISTORY: usize = 48;
const MOST_TAPS: usize = 48;
/// Points of the doubled rate that a scan looks at: a batch's, two before and one behind.
const POINTS: usize = 2 * BATCH_FRAMES + 4;
/// Points that a scan passes over at once if none is high enough.
const SCAN_BLOCK: usize = 16;

/// Interpolates between samples with `REACH` taps on either side.
#[derive(Clone)]
pub(crate) struct Interpolator<const REACH: usize> {
    /// `phases[p][k]`: weight of sample k − REACH + 1 for the point p/8 behind sample 0.
    phases: [[f32; MOST_TAPS]; PHASES],
    /// Largest sum of magnitudes of the weights of one phase: no point can exceed the largest
    /// sample in reach by more.
    bound: f32,
    /// `2·REACH` samples of history, then the batch.
    samples: [f32; MOST_HISTORY + BATCH_FRAMES],
    history_largest: f32,
    /// The last two halfway points of the batch before; 0 if that batch was skipped.
    halfway_before: [f32; 2],
    /// Whether the batch before is not to be read: what lies before the next batch does not count.
    begins: bool,
    /// Since the stretch began that [`take_stretch`](Self::take_stretch) ends; and before it.
    held: f32,
    held_before: f32,
    shifted: Shifted,
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

    pub(crate) fn new() -> Self {
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
        Self {
            phases,
            bound,
            samples: [0.0; MOST_HISTORY + BATCH_FRAMES],
            history_largest: 0.0,
            halfway_before: [0.0; 2],
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
        }
    }

    pub(crate) fn reset(&mut self) {
        self.samples = [0.0; MOST_HISTORY + BATCH_FRAMES];
        self.history_largest = 0.0;
        self.halfway_before = [0.0; 2];
        self.begins = false;
        self.let_go();
        self.shifted.shifts = [[0.0; BATCH_FRAMES]; 2];
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
        self.history_largest = largest(batch);
        self.halfway_before = [0.0; 2];
        self.begins = true;
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

    /// Takes a batch in, and says what its largest sample in reach is if a point between samples
    /// could exceed what is held.
    #[inline(always)]
    fn push(&mut self, batch: &Batch, shift: Option<(&Batch, f32)>) -> Option<f32> {
        self.append(batch);
        let batch_largest = largest(batch);
        let largest_in_reach = f32::max(self.history_largest, batch_largest);
        // A batch is longer than the history, so nothing older can stay in reach.
        const { assert!(BATCH_FRAMES >= MOST_HISTORY) };
        self.history_largest = batch_largest;
        let bound = largest_in_reach * self.bound;
        self.shifted.follows = self.shifted.held >= self.held() * (1.0 - NEGLIGIBLE);
        self.held = f32::max(self.held, batch_largest);
        let shifted =
            shift.is_some_and(|(shift, sign)| self.shifted.may_exceed(shift, sign, bound));
        let may_exceed = bound > self.held || shifted;
        if !may_exceed {
            self.halfway_before = [0.0; 2];
            self.begins = false;
        }
        may_exceed.then_some(largest_in_reach)
    }

    /// Looks at the batch with its rate doubled: points at samples `REACH + j` and halfway behind.
    #[inline(always)]
    fn look(&mut self, largest_in_reach: f32, halfway: &Batch, shifts: bool) {
        // Where the batch before is not to be read, the first point is this batch's first sample.
        let first = if std::mem::take(&mut self.begins) { REACH } else { 0 };
        let largest_halfway = match first {
            0 => largest(halfway),
            _ => halfway[first..].iter().fold(0.0, |held, point| f32::max(held, point.abs())),
        };
        self.held = f32::max(self.held, largest_halfway);
        let highest = f32::max(largest_in_reach, largest_halfway);
        let follows =
            self.shifted.follows && self.shifted.largest_shift() <= NEGLIGIBLE * self.held();
        let looks_shifted = shifts && !follows;
        if highest >= NEAREST_POINT_SHARE * self.floor(looks_shifted) {
            self.scan(&self.points(halfway), first, looks_shifted);
        }
        if shifts && follows {
            self.shifted.held = f32::max(self.shifted.held, self.held());
        }
        self.halfway_before = [halfway[BATCH_FRAMES - 2], halfway[BATCH_FRAMES - 1]];
    }

    #[inline(always)]
    fn halfway_points(&self) -> Batch {
        const BLOCK: usize = 32;
        let weights = &self.phases[HALFWAY];
        let mut points = [0.0; BATCH_FRAMES];
        for (block, points) in points.as_chunks_mut::<BLOCK>().0.iter_mut().enumerate() {
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
        points
    }

    /// Points of the doubled rate: a batch's, two before and one behind.
    #[inline(always)]
    fn points(&self, halfway: &Batch) -> [f32; POINTS] {
        let mut points = [0.0; POINTS];
        points[0] = self.halfway_before[0];
        points[2] = self.halfway_before[1];
        for j in 0..BATCH_FRAMES {
            points[2 * j + 3] = self.samples[REACH + j];
            points[2 * j + 4] = halfway[j];
        }
        points[1] = self.samples[REACH - 1];
        points[POINTS - 1] = self.samples[REACH + BATCH_FRAMES];
        points
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
    fn scan(&mut self, points: &[f32; POINTS], begin: usize, shifts: bool) {
        for first in (2..POINTS - 2).step_by(SCAN_BLOCK) {
            let block: &[f32; SCAN_BLOCK + 4] =
                points[first - 2..].first_chunk().expect("two points stand either side");
            let floor = self.floor(shifts);
            let least = NEAREST_POINT_SHARE * floor;
            if !may_top(block, floor, least) {
                continue;
            }
            for center in first..first + SCAN_BLOCK {
                let passed_over = begin > 0 && center < 2 * begin + 3;
                if !passed_over && is_local_maximum(points, center, least) {
                    self.look_at(points, center, shifts);
                }
            }
        }
    }

    /// Looks at the local maximum `center` of the points of the doubled rate.
    #[inline(always)]
    fn look_at(&mut self, points: &[f32; POINTS], center: usize, shifts: bool) {
        let [outer_before, before, here, behind, outer_behind] =
            std::array::from_fn(|index| points[center + index - 2]);
        let fit = Fit::through(before, here, behind);
        let most = fit.top * FIT_SHORTFALL;
        // Points 3, 5… are the samples REACH, REACH + 1… of which REACH are the batch's before.
        let frame = center.div_ceil(2) + BATCH_FRAMES - REACH - 2;
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
        let eighths = (REACH - 1) * PHASES + (center - 1) * HALFWAY;
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
    /// Takes the next shift, and says whether a point could exceed what is held; none of the
    /// waveform's exceeds `bound`.
    #[inline(always)]
    fn may_exceed(&mut self, shift: &Batch, sign: f32, bound: f32) -> bool {
        self.shifts = [self.shifts[1], *shift];
        self.sign = sign;
        self.largest = [self.largest[1], largest(shift)];
        bound + self.largest_shift() > self.held
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

/// Whether the point `center` is a local maximum from `least` up.
#[inline(always)]
fn is_local_maximum(points: &[f32; POINTS], center: usize, least: f32) -> bool {
    let [before, here, behind] = [center - 1, center, center + 1].map(|index| points[index].abs());
    here >= least && here >= before && here >= behind
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
        let mut halfway = [[0.0; BATCH_FRAMES]; 3];
        let mut known = [false; 3];
        let signals = self.signals.iter_mut().zip(self.batches).enumerate();
        for (index, (signal, batch)) in signals {
            let shift = self.shift.as_ref().and_then(|shift| shift.of(index));
            let shifts = shift.is_some();
            let Some(largest_in_reach) = signal.push(batch, shift) else { continue };
            // Interpolation is linear: where A and B are known, so is their sum.
            halfway[index] = if known[0] && known[1] {
                std::array::from_fn(|j| halfway[0][j] + halfway[1][j])
            } else {
                signal.halfway_points()
            };
            known[index] = true;
            signal.look(largest_in_reach, &halfway[index], shifts);
        }
    }
}

#[inline(always)]
fn largest<const N: usize>(samples: &[f32; N]) -> f32 {
    let mut lanes = [0f32; 8];
    for chunk in samples.as_chunks::<8>().0 {
        for i in 0..8 {
            let magnitude = chunk[i].abs();
            lanes[i] = if magnitude > lanes[i] { magnitude } else { lanes[i] };
        }
    }
    lanes.iter().fold(0.0, |held, &x| if x > held { x } else { held })
}

#[cfg(test)]
mod tests;
