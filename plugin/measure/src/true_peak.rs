//! True peak: the largest magnitude of the waveform between the samples.
//!
//! Two ways. [`Interpolated`](TruePeakFilter::Interpolated) finds the maximum of the band-limited
//! interpolation; [`Bs1770`](TruePeakFilter::Bs1770) applies the filter printed in ITU-R
//! BS.1770-5, Annex 2, which reads a steady sine up to 20 kHz between −0.46 and +0.22 dB off.

mod interpolated;
mod printed_filter;
mod shift;

use pulp::Arch;

use crate::batch::Batch;
use crate::settings::TruePeakFilter;
use interpolated::Interpolator;
use printed_filter::PrintedFilter;
pub(crate) use shift::{Shift, Shifts};

/// Taps on either side for signals that reach up to 0.4535 of the rate: 20 kHz at 44.1 kHz.
const FULL_REACH: usize = 24;
/// Taps on either side for signals that end at a quarter of the rate.
const SHORT_REACH: usize = 8;
/// Where a signal has to end, as a share of the rate, for the short interpolator.
const SHORT_BAND: f64 = 0.25;

/// How many signals a pair of channels makes: A, B, A + B.
const SIGNALS: usize = 3;

/// Holds the true peaks of A, B and A + B since reset.
// The sizes differ, but every meter holds only a few.
#[allow(clippy::large_enum_variant)]
#[derive(Clone)]
pub(crate) enum TruePeaks {
    Full([Interpolator<FULL_REACH>; SIGNALS]),
    Short([Interpolator<SHORT_REACH>; SIGNALS]),
    Printed([PrintedFilter; SIGNALS]),
}

impl TruePeaks {
    /// Detectors for signals without energy above `highest_hz`.
    pub(crate) fn new(filter: TruePeakFilter, rate_hz: f64, highest_hz: f64) -> Self {
        use std::array::from_fn;
        let band_end = f64::min(highest_hz / rate_hz, 0.5);
        match filter {
            TruePeakFilter::Bs1770 => Self::Printed(from_fn(|_| PrintedFilter::default())),
            TruePeakFilter::Interpolated if highest_hz <= SHORT_BAND * rate_hz => {
                Self::Short(Interpolator::three(band_end))
            }
            TruePeakFilter::Interpolated => Self::Full(Interpolator::three(band_end)),
        }
    }

    pub(crate) fn reset(&mut self) {
        match self {
            Self::Full(signals) => signals.iter_mut().for_each(Interpolator::reset),
            Self::Short(signals) => signals.iter_mut().for_each(Interpolator::reset),
            Self::Printed(signals) => signals.iter_mut().for_each(PrintedFilter::reset),
        }
    }

    /// Goes on from where `other`, for the same signals, stands, with what it holds.
    pub(crate) fn follow(&mut self, other: &Self) {
        match (self, other) {
            (Self::Full(signals), Self::Full(others)) => {
                signals.iter_mut().zip(others).for_each(|(signal, other)| signal.follow(other));
            }
            (Self::Short(signals), Self::Short(others)) => {
                signals.iter_mut().zip(others).for_each(|(signal, other)| signal.follow(other));
            }
            (signals, others) => *signals = others.clone(),
        }
    }

    /// Lets go of the largest magnitudes so far.
    pub(crate) fn let_go(&mut self) {
        match self {
            Self::Full(signals) => signals.iter_mut().for_each(Interpolator::let_go),
            Self::Short(signals) => signals.iter_mut().for_each(Interpolator::let_go),
            Self::Printed(signals) => signals.iter_mut().for_each(PrintedFilter::let_go),
        }
    }

    /// Raises what is held to what was held elsewhere.
    pub(crate) fn raise(&mut self, held: [f32; SIGNALS]) {
        match self {
            Self::Full(signals) => signals.iter_mut().zip(held).for_each(|(s, h)| s.raise(h)),
            Self::Short(signals) => signals.iter_mut().zip(held).for_each(|(s, h)| s.raise(h)),
            Self::Printed(signals) => signals.iter_mut().zip(held).for_each(|(s, h)| s.raise(h)),
        }
    }

    /// Takes a batch of A alone, or of A, B and A + B, that is not to be read.
    pub(crate) fn pass(&mut self, batches: &[&Batch]) {
        match self {
            Self::Full(signals) => {
                signals.iter_mut().zip(batches).for_each(|(s, batch)| s.pass(batch))
            }
            Self::Short(signals) => {
                signals.iter_mut().zip(batches).for_each(|(s, batch)| s.pass(batch))
            }
            Self::Printed(signals) => {
                signals.iter_mut().zip(batches).for_each(|(s, batch)| s.pass(batch));
            }
        }
    }

    /// Takes a batch of A alone, or of A, B and A + B; the shift is added to A and to B for what is
    /// held shifted.
    pub(crate) fn take(&mut self, arch: Arch, batches: &[&Batch], shift: Option<Shift>) {
        match self {
            Self::Full(signals) => Interpolator::take_all(signals, arch, batches, shift),
            Self::Short(signals) => Interpolator::take_all(signals, arch, batches, shift),
            Self::Printed(signals) => {
                for (index, (signal, batch)) in signals.iter_mut().zip(batches).enumerate() {
                    signal.take(arch, batch, shift.as_ref().and_then(|shift| shift.of(index)));
                }
            }
        }
    }

    /// Largest magnitude of A and B with the shift added, linear.
    pub(crate) fn shifted_held(&self) -> f32 {
        match self {
            Self::Full([a, b, _]) => a.shifted_held().max(b.shifted_held()),
            Self::Short([a, b, _]) => a.shifted_held().max(b.shifted_held()),
            Self::Printed([a, b, _]) => a.shifted_held().max(b.shifted_held()),
        }
    }

    /// Raises what is held with the shift added to what was held elsewhere.
    pub(crate) fn raise_shifted(&mut self, held: f32) {
        match self {
            Self::Full([a, ..]) => a.raise_shifted(held),
            Self::Short([a, ..]) => a.raise_shifted(held),
            Self::Printed([a, ..]) => a.raise_shifted(held),
        }
    }

    /// Largest magnitude of A and B in the stretch that ends here, linear.
    pub(crate) fn take_stretch(&mut self) -> f32 {
        match self {
            Self::Full([a, b, _]) => a.take_stretch().max(b.take_stretch()),
            Self::Short([a, b, _]) => a.take_stretch().max(b.take_stretch()),
            Self::Printed([a, b, _]) => a.take_stretch().max(b.take_stretch()),
        }
    }

    /// Largest magnitudes since reset, linear: A, B, A + B.
    pub(crate) fn held(&self) -> [f32; SIGNALS] {
        match self {
            Self::Full(signals) => signals.each_ref().map(Interpolator::held),
            Self::Short(signals) => signals.each_ref().map(Interpolator::held),
            Self::Printed(signals) => signals.each_ref().map(PrintedFilter::held),
        }
    }
}
