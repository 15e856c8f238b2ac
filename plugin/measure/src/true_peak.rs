//! True peak: the largest magnitude of the waveform between the samples.
//!
//! Two ways. [`Interpolated`](TruePeakFilter::Interpolated) finds the maximum of the band-limited
//! interpolation; [`Bs1770`](TruePeakFilter::Bs1770) applies the filter printed in ITU-R
//! BS.1770-5, Annex 2, which reads a steady sine up to 20 kHz between −0.46 and +0.22 dB off.

mod interpolated;
mod printed_filter;

use pulp::Arch;

use crate::batch::Batch;
use crate::settings::TruePeakFilter;
use interpolated::Interpolator;
use printed_filter::PrintedFilter;

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
pub(crate) enum TruePeaks {
    Full([Interpolator<FULL_REACH>; SIGNALS]),
    Short([Interpolator<SHORT_REACH>; SIGNALS]),
    Printed([PrintedFilter; SIGNALS]),
}

impl TruePeaks {
    /// Detectors for signals without energy above `highest_hz`.
    pub(crate) fn new(filter: TruePeakFilter, rate_hz: f64, highest_hz: f64) -> Self {
        use std::array::from_fn;
        match filter {
            TruePeakFilter::Bs1770 => Self::Printed(from_fn(|_| PrintedFilter::default())),
            TruePeakFilter::Interpolated if highest_hz <= SHORT_BAND * rate_hz => {
                Self::Short(from_fn(|_| Interpolator::new()))
            }
            TruePeakFilter::Interpolated => Self::Full(from_fn(|_| Interpolator::new())),
        }
    }

    pub(crate) fn reset(&mut self) {
        match self {
            Self::Full(signals) => signals.iter_mut().for_each(Interpolator::reset),
            Self::Short(signals) => signals.iter_mut().for_each(Interpolator::reset),
            Self::Printed(signals) => signals.iter_mut().for_each(PrintedFilter::reset),
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

    /// Takes a batch whose peaks are known from elsewhere; what comes next is looked at as ever.
    pub(crate) fn follow(&mut self, arch: Arch, batches: &[&Batch]) {
        match self {
            Self::Full(signals) => {
                signals.iter_mut().zip(batches).for_each(|(s, batch)| s.follow(batch))
            }
            Self::Short(signals) => {
                signals.iter_mut().zip(batches).for_each(|(s, batch)| s.follow(batch))
            }
            Self::Printed(_) => self.take(arch, batches),
        }
    }

    /// Takes a batch of A alone, or of A, B and A + B.
    pub(crate) fn take(&mut self, arch: Arch, batches: &[&Batch]) {
        match self {
            Self::Full(signals) => Interpolator::take_all(signals, arch, batches),
            Self::Short(signals) => Interpolator::take_all(signals, arch, batches),
            Self::Printed(signals) => {
                for (signal, batch) in signals.iter_mut().zip(batches) {
                    signal.take(arch, batch);
                }
            }
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
