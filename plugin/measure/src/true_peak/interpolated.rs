//! The maximum of the band-limited interpolation, found by doubling the rate and looking closer
//! only where a new maximum can be.
//!
//! A signal that ends at a share f of the rate cannot rise far between its samples: near its largest
//! magnitude M it stays above M·cos(πf) for half a sample either way, and above M·cos(πf/2) for a quarter
//! (M. Riesz's comparison with a cosine of the band's highest frequency). So a batch whose samples all lie
//! below the first share of the maximum held so far is done without interpolation, and one whose points
//! two to a sample all lie below the second is done then; so is a run of points of which no two neighbours
//! lie high enough for a top [between them](fit::Tops). Neither are the tops of a [`steady`] tone looked
//! at again. Elsewhere each local maximum is fitted with a
//! sinusoid; only if the fit is poor and comes near the maximum held, or would raise it, seven more
//! points an eighth of a sample apart are worked out, and a parabola through the highest three.

mod fit;
mod halfway;
mod scan;
mod steady;
mod weights;

use std::f64::consts::PI;
use std::sync::Arc;

use pulp::{Arch, Simd, WithSimd};

use super::shift::{Shift, SignalShift};
use crate::batch::{BATCH_FRAMES, Batch};
use crate::peak::largest_of;
use fit::Tops;
use halfway::Halfway;
use steady::Steady;
use weights::Weights;

/// Attenuation of the window, in decibels. With 24 taps a side, a point halfway is off by 0.0064 dB at most up to
/// 0.4535 of the rate.
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
/// A steady tone tops what is held where it does so by more than this share: 0.0005 dB.
const STEADY_RISE: f32 = 5.7e-5;
/// Longest history, in samples: both sides of the longest interpolator.
const MOST_HISTORY: usize = 48;
const MOST_TAPS: usize = 48;
/// History, then a batch.
type Samples = [f32; MOST_HISTORY + BATCH_FRAMES];

/// Interpolates between samples with `REACH` taps on either side.
#[derive(Clone)]
pub(crate) struct Interpolator<const REACH: usize> {
    weights: Arc<Weights<REACH>>,
    /// Least share of a maximum that the nearest sample shows.
    sample_share: f32,
    /// Least share of a maximum that the nearest of two points a sample shows.
    point_share: f32,
    tops: Tops,
    /// `2·REACH` samples of history, then the batch.
    samples: Samples,
    history_largest: f32,
    halfway: Halfway,
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
    held: f32,
    /// Whether what the waveform itself holds stands for it where so little is added.
    follows: bool,
}

impl<const REACH: usize> Interpolator<REACH> {
    const TAPS: usize = Weights::<REACH>::TAPS;

    /// Interpolators for three signals that end at `band_end`, as a share of the rate, at most a half.
    pub(crate) fn three(band_end: f64) -> [Self; 3] {
        let weights = Arc::new(Weights::new());
        std::array::from_fn(|_| Self::new(Arc::clone(&weights), band_end))
    }

    fn new(weights: Arc<Weights<REACH>>, band_end: f64) -> Self {
        // Half a sample away from a maximum, or a quarter.
        let share = |away: f64| (SHARE_LEFT * (2.0 * PI * band_end * away).cos().max(0.0)) as f32;
        Self {
            weights,
            sample_share: share(0.5),
            point_share: share(0.25),
            tops: Tops::new(band_end, share(0.25)),
            samples: [0.0; MOST_HISTORY + BATCH_FRAMES],
            history_largest: 0.0,
            halfway: Halfway::UNKNOWN,
            begins: false,
            held: 0.0,
            held_before: 0.0,
            shifted: Shifted { held: 0.0, follows: false },
            steady: Steady::UNKNOWN,
        }
    }

    pub(crate) fn reset(&mut self) {
        self.samples = [0.0; MOST_HISTORY + BATCH_FRAMES];
        self.history_largest = 0.0;
        self.halfway.pass();
        self.begins = false;
        self.let_go();
        self.steady = Steady::UNKNOWN;
    }

    /// Each goes on from where the other of its place stands. The weights stay, since to drop the last of
    /// theirs would give memory back.
    pub(crate) fn all_follow(signals: &mut [Self; 3], others: &[Self; 3]) {
        for (signal, other) in signals.iter_mut().zip(others) {
            *signal = Self { weights: Arc::clone(&signal.weights), ..other.clone() };
        }
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
        self.halfway.pass();
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

    /// Takes a batch in, and returns the largest magnitude in reach if a point between samples could
    /// exceed what is held.
    #[inline(always)]
    fn push(&mut self, batch: &Batch, shift: Option<SignalShift>) -> Option<f32> {
        self.append(batch);
        let batch_largest = largest_of(batch);
        let largest_in_reach = f32::max(self.history_largest, batch_largest);
        // A batch is longer than the history, so nothing older can stay in reach.
        const { assert!(BATCH_FRAMES >= MOST_HISTORY) };
        self.history_largest = batch_largest;
        self.shifted.follows = self.shifted.held >= self.held() * (1.0 - NEGLIGIBLE);
        self.held = f32::max(self.held, batch_largest);
        let may_exceed = self.may_exceed(largest_in_reach, shift);
        if !may_exceed {
            self.halfway.pass();
            self.begins = false;
        }
        may_exceed.then_some(largest_in_reach)
    }

    /// Whether a point of the batch could exceed what is held. Nothing in reach of it is larger than
    /// `largest_in_reach`.
    #[inline(always)]
    fn may_exceed(&mut self, largest_in_reach: f32, shift: Option<SignalShift>) -> bool {
        let least = self.sample_share * self.floor(self.looked_at(shift));
        let may_exceed = largest_in_reach >= least
            && self.is_exceeded_by(largest_in_reach * self.weights.bound, 0.0, shift)
            && (least == 0.0 || self.largest_nearby() >= least);
        if !may_exceed {
            self.steady.pass();
            return false;
        }
        let samples = &self.samples[..Self::TAPS + BATCH_FRAMES];
        let bound = self.steady.bound(samples, REACH - 1, largest_in_reach);
        let may_exceed = self.is_exceeded_by(bound, STEADY_RISE, shift);
        if may_exceed {
            self.steady.improve(&self.samples[..Self::TAPS + BATCH_FRAMES]);
        } else {
            self.steady.keep();
        }
        may_exceed
    }

    /// Whether points up to `bound` would exceed what is held by more than the share `rise`.
    #[inline(always)]
    fn is_exceeded_by(&self, bound: f32, rise: f32, shift: Option<SignalShift>) -> bool {
        bound > self.held * (1.0 + rise)
            || self
                .looked_at(shift)
                .is_some_and(|shift| bound + shift.largest > self.shifted.held * (1.0 + rise))
    }

    /// The largest of the samples that a point of the batch can be nearest to.
    #[inline(always)]
    fn largest_nearby(&self) -> f32 {
        let near: &Batch =
            self.samples[REACH..].first_chunk().expect("a batch lies behind the history");
        let outer = [self.samples[REACH - 1], self.samples[REACH + BATCH_FRAMES]];
        f32::max(largest_of(near), f32::max(outer[0].abs(), outer[1].abs()))
    }

    /// What is added, unless it is so little that what the waveform itself holds stands for both.
    #[inline(always)]
    fn looked_at<'a>(&self, shift: Option<SignalShift<'a>>) -> Option<SignalShift<'a>> {
        let follows =
            |shift: &SignalShift| self.shifted.follows && shift.largest <= NEGLIGIBLE * self.held();
        shift.filter(|shift| !follows(shift))
    }

    /// No point of the waveform below this tops what is held, shifted or not.
    #[inline(always)]
    fn floor(&self, shift: Option<SignalShift>) -> f32 {
        let unshifted = shift.map_or(self.held, |shift| self.shifted.held - shift.largest);
        f32::min(self.held, unshifted.max(0.0))
    }
}

struct TakeAll<'a, const REACH: usize> {
    signals: &'a mut [Interpolator<REACH>],
    batches: &'a [&'a Batch],
    shift: Option<Shift<'a>>,
}

impl<const REACH: usize> WithSimd for TakeAll<'_, REACH> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Self { signals, batches, shift } = self;
        let shift = |index: usize| shift.as_ref().and_then(|shift| shift.of(index));
        // One kind of work after the other: what has just been stored is slow to load again.
        let mut largest = [None; 3];
        let all = signals.iter_mut().zip(batches).zip(&mut largest).enumerate();
        for (index, ((signal, batch), largest)) in all {
            *largest = signal.push(batch, shift(index));
        }
        for index in 0..signals.len() {
            if largest[index].is_none() {
                continue;
            }
            match signals.split_at_mut(index) {
                ([a, b], [signal, ..]) if largest[0].is_some() && largest[1].is_some() => {
                    signal.add_halfway(simd, &a.halfway, &b.halfway);
                }
                (_, [signal, ..]) => signal.interpolate_halfway(simd),
                (_, []) => {}
            }
        }
        for (index, (signal, largest)) in signals.iter_mut().zip(largest).enumerate() {
            if let Some(largest) = largest {
                signal.look(simd, largest, shift(index));
            }
        }
    }
}

#[cfg(test)]
mod tests;
