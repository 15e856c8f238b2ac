//! The four-phase interpolation filter printed in ITU-R BS.1770-5, Annex 2.
//!
//! Its four points lie an eighth and three eighths of a sample either side of the samples, so it
//! never contains the samples themselves. It is used with all four phases at every rate.

use pulp::{Arch, NullaryFnOnce};

use super::shift::SignalShift;
use crate::batch::{BATCH_FRAMES, Batch};

const TAPS: usize = 12;

/// Phases 0 and 1 as printed, in units of 1/8192; phases 3 and 2 are the same read backwards.
const PHASE_0: [i16; TAPS] = [14, 90, -161, 272, -487, 1125, 7964, -838, 390, -218, 122, -68];
const PHASE_1: [i16; TAPS] = [-239, 240, -424, 730, -1364, 3810, 6388, -1641, 832, -477, 271, -155];
const UNIT: f32 = 1.0 / 8192.0;

#[derive(Clone)]
pub(crate) struct PrintedFilter {
    samples: [f32; TAPS + BATCH_FRAMES],
    /// Whether the batch before is not to be read.
    begins: bool,
    /// Since the stretch began that [`take_stretch`](Self::take_stretch) ends; and before it.
    held: f32,
    held_before: f32,
    /// The same of the waveform with something slow added.
    shifted_held: f32,
}

impl Default for PrintedFilter {
    fn default() -> Self {
        Self {
            samples: [0.0; TAPS + BATCH_FRAMES],
            begins: false,
            held: 0.0,
            held_before: 0.0,
            shifted_held: 0.0,
        }
    }
}

impl PrintedFilter {
    pub(crate) fn reset(&mut self) {
        *self = Self::default();
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
        self.shifted_held
    }

    /// Lets go of the largest magnitudes so far.
    pub(crate) fn let_go(&mut self) {
        (self.held, self.held_before) = (0.0, 0.0);
        self.shifted_held = 0.0;
    }

    /// Raises what is held with the shifts added to what was held elsewhere.
    pub(crate) fn raise_shifted(&mut self, held: f32) {
        self.shifted_held = self.shifted_held.max(held);
    }

    /// Raises what is held to what was held elsewhere.
    pub(crate) fn raise(&mut self, held: f32) {
        self.held_before = self.held_before.max(held);
    }

    /// Takes a batch that is not to be read; the waveform goes on from it.
    pub(crate) fn pass(&mut self, batch: &Batch) {
        self.samples[TAPS..].copy_from_slice(batch);
        self.samples.copy_within(BATCH_FRAMES.., 0);
        self.begins = true;
    }

    /// Takes a batch; `shift` is added to it for what is held shifted.
    pub(crate) fn take(&mut self, arch: Arch, batch: &Batch, shift: Option<SignalShift>) {
        arch.dispatch(Take { filter: self, batch, shift });
    }

    #[inline(always)]
    fn run(&mut self, batch: &Batch, shift: Option<SignalShift>) {
        self.samples[TAPS..].copy_from_slice(batch);
        for phase in [&PHASE_0, &PHASE_1] {
            self.convolve(shift, |k| f32::from(phase[k]) * UNIT);
            self.convolve(shift, |k| f32::from(phase[TAPS - 1 - k]) * UNIT);
        }
        self.samples.copy_within(BATCH_FRAMES.., 0);
        self.begins = false;
    }

    /// Holds the largest output of one phase over the batch; `tap(k)` weighs the k-th latest sample.
    #[inline(always)]
    fn convolve(&mut self, shift: Option<SignalShift>, tap: impl Fn(usize) -> f32) {
        let mut points = [0f32; BATCH_FRAMES];
        for k in 0..TAPS {
            let weight = tap(k);
            let delayed = &self.samples[TAPS - k..][..BATCH_FRAMES];
            for (point, sample) in points.iter_mut().zip(delayed) {
                *point += weight * sample;
            }
        }
        // The filter is late by half its length.
        let first = if self.begins { TAPS / 2 } else { 0 };
        for point in &points[first..] {
            self.held = self.held.max(point.abs());
        }
        // What is slow has hardly moved in half the filter's length.
        if let Some(SignalShift { batches: [_, latest], sign, .. }) = shift {
            for (point, shift) in points.iter().zip(latest).skip(first) {
                self.shifted_held = self.shifted_held.max((point + sign * shift).abs());
            }
        }
    }
}

struct Take<'a> {
    filter: &'a mut PrintedFilter,
    batch: &'a [f32; BATCH_FRAMES],
    shift: Option<SignalShift<'a>>,
}

impl NullaryFnOnce for Take<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        self.filter.run(self.batch, self.shift);
    }
}

#[cfg(test)]
mod tests;
