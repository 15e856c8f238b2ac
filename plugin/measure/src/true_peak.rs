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
/// Taps on either side for the audible band at 48 kHz, and where a signal has to end for that, as a share of
/// the rate: a point halfway is off by 0.0074 dB at most.
const MIDDLE_REACH: usize = 16;
const MIDDLE_BAND: f64 = 0.4334;
/// The same for signals that end at a quarter of the rate.
const SHORT_REACH: usize = 8;
const SHORT_BAND: f64 = 0.25;

/// How many signals a pair of channels makes: A, B, A + B.
const SIGNALS: usize = 3;

/// Holds the true peaks of A, B and A + B since reset.
// The sizes differ, but every meter holds only a few.
#[allow(clippy::large_enum_variant)]
#[derive(Clone)]
pub(crate) enum TruePeaks {
    Full([Interpolator<FULL_REACH>; SIGNALS]),
    Middle([Interpolator<MIDDLE_REACH>; SIGNALS]),
    Short([Interpolator<SHORT_REACH>; SIGNALS]),
    Printed([PrintedFilter; SIGNALS]),
}

/// Does the same with the signals whatever detects their peaks.
macro_rules! with_signals {
    ($peaks:expr, $signals:pat => $done:expr) => {
        match $peaks {
            TruePeaks::Full($signals) => $done,
            TruePeaks::Middle($signals) => $done,
            TruePeaks::Short($signals) => $done,
            TruePeaks::Printed($signals) => $done,
        }
    };
}

impl TruePeaks {
    /// Detectors for signals without energy above `highest_hz`.
    pub(crate) fn new(filter: TruePeakFilter, rate_hz: f64, highest_hz: f64) -> Self {
        let band_end = f64::min(highest_hz / rate_hz, 0.5);
        match filter {
            TruePeakFilter::Bs1770 => {
                Self::Printed(std::array::from_fn(|_| PrintedFilter::default()))
            }
            TruePeakFilter::Interpolated if band_end <= SHORT_BAND => {
                Self::Short(Interpolator::three(band_end))
            }
            TruePeakFilter::Interpolated if band_end <= MIDDLE_BAND => {
                Self::Middle(Interpolator::three(band_end))
            }
            TruePeakFilter::Interpolated => Self::Full(Interpolator::three(band_end)),
        }
    }

    pub(crate) fn reset(&mut self) {
        with_signals!(self, signals => signals.iter_mut().for_each(|signal| signal.reset()));
    }

    /// Goes on from where `other`, for the same signals, stands, with what it holds.
    pub(crate) fn follow(&mut self, other: &Self) {
        match (self, other) {
            (Self::Full(signals), Self::Full(others)) => Interpolator::all_follow(signals, others),
            (Self::Middle(signals), Self::Middle(others)) => {
                Interpolator::all_follow(signals, others);
            }
            (Self::Short(signals), Self::Short(others)) => {
                Interpolator::all_follow(signals, others);
            }
            (signals, others) => *signals = others.clone(),
        }
    }

    /// Lets go of the largest magnitudes so far.
    pub(crate) fn let_go(&mut self) {
        with_signals!(self, signals => signals.iter_mut().for_each(|signal| signal.let_go()));
    }

    /// Raises what is held to what was held elsewhere.
    pub(crate) fn raise(&mut self, held: [f32; SIGNALS]) {
        with_signals!(self, signals => {
            signals.iter_mut().zip(held).for_each(|(signal, held)| signal.raise(held));
        });
    }

    /// Takes a batch of A alone, or of A, B and A + B, that is not to be read.
    pub(crate) fn pass(&mut self, batches: &[&Batch]) {
        with_signals!(self, signals => {
            signals.iter_mut().zip(batches).for_each(|(signal, batch)| signal.pass(batch));
        });
    }

    /// Takes a batch of A alone, or of A, B and A + B; the shift is added to A and to B for what is
    /// held shifted.
    pub(crate) fn take(&mut self, arch: Arch, batches: &[&Batch], shift: Option<Shift>) {
        match self {
            Self::Full(signals) => Interpolator::take_all(signals, arch, batches, shift),
            Self::Middle(signals) => Interpolator::take_all(signals, arch, batches, shift),
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
        with_signals!(self, [a, b, _] => a.shifted_held().max(b.shifted_held()))
    }

    /// Raises what is held with the shift added to what was held elsewhere.
    pub(crate) fn raise_shifted(&mut self, held: f32) {
        with_signals!(self, [a, ..] => a.raise_shifted(held));
    }

    /// Largest magnitude of A and B in the stretch that ends here, linear.
    pub(crate) fn take_stretch(&mut self) -> f32 {
        with_signals!(self, [a, b, _] => a.take_stretch().max(b.take_stretch()))
    }

    /// Largest magnitudes since reset, linear: A, B, A + B.
    pub(crate) fn held(&self) -> [f32; SIGNALS] {
        with_signals!(self, signals => signals.each_ref().map(|signal| signal.held()))
    }
}
