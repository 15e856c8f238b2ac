//! True peak: the largest magnitude of the waveform between the samples.
//!
//! Two ways. [`Interpolated`](TruePeakFilter::Interpolated) finds the maximum of the band-limited
//! interpolation; [`Bs1770`](TruePeakFilter::Bs1770) applies the filter printed in ITU-R
//! BS.1770-5, Annex 2, which reads a steady sine up to 20 kHz between −0.46 and +0.22 dB off.

mod interpolated;
mod printed_filter;

use pulp::Arch;

use crate::band::STEP_FRAMES;
use crate::settings::TruePeakFilter;
use interpolated::Interpolator;
use printed_filter::PrintedFilter;

/// Taps on either side for signals that reach up to 0.4535 of the rate: 20 kHz at 44.1 kHz.
const FULL_REACH: usize = 24;
/// Taps on either side for signals that end at a quarter of the rate.
const SHORT_REACH: usize = 8;
/// Where a signal has to end, as a share of the rate, for the short interpolator.
const SHORT_BAND: f64 = 0.25;

/// Holds the true peak of one signal since reset.
///
/// The enum's sizes differ, but every meter holds only a few.
#[allow(clippy::large_enum_variant)]
pub(crate) enum TruePeak {
    Full(Interpolator<FULL_REACH>),
    Short(Interpolator<SHORT_REACH>),
    Printed(PrintedFilter),
}

impl TruePeak {
    /// A detector for a signal without energy above `highest_hz`.
    pub(crate) fn new(filter: TruePeakFilter, rate_hz: f64, highest_hz: f64) -> Self {
        match filter {
            TruePeakFilter::Bs1770 => Self::Printed(PrintedFilter::default()),
            TruePeakFilter::Interpolated if highest_hz <= SHORT_BAND * rate_hz => {
                Self::Short(Interpolator::new())
            }
            TruePeakFilter::Interpolated => Self::Full(Interpolator::new()),
        }
    }

    pub(crate) fn reset(&mut self) {
        match self {
            Self::Full(x) => x.reset(),
            Self::Short(x) => x.reset(),
            Self::Printed(x) => x.reset(),
        }
    }

    /// Takes a step of samples.
    pub(crate) fn take(&mut self, arch: Arch, samples: &[f32; STEP_FRAMES]) {
        match self {
            Self::Full(x) => x.take(arch, samples),
            Self::Short(x) => x.take(arch, samples),
            Self::Printed(x) => x.take(arch, samples),
        }
    }

    /// Largest magnitude since reset, linear.
    pub(crate) fn held(&self) -> f32 {
        match self {
            Self::Full(x) => x.held(),
            Self::Short(x) => x.held(),
            Self::Printed(x) => x.held(),
        }
    }
}
