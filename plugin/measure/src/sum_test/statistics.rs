//! How far a reading of a noise of finite length may lie from the noise's true level.
//!
//! Averages: J. S. Bendat, A. G. Piersol, "Random Data": the relative standard error of a mean
//! square is √((κ − 1)/N), N = 2·B·T independent samples of kurtosis κ; for Gaussian noise that is
//! 1/√(B·T). Peaks: Gumbel's law for the largest of N Gaussian samples, whose standard deviation is
//! π/√6 over √(2·ln N) of the noise's; a bounded noise's largest sample has a closed form.

mod programme;

use std::f64::consts::PI;

use super::schedule::{STEPS, Schedule, Sound};
use crate::band::stop_edge_hz;
use crate::detector::{Detector, ProgrammeType};
use crate::settings::Edges;

/// Two-sided 95 % of a normal distribution.
const COVERAGE: f64 = 1.96;
/// 10·log10(e): decibels of a small relative error of a power.
const DB_PER_POWER: f64 = 4.342_944_819;
/// 20·log10(e): the same of an amplitude.
const DB_PER_AMPLITUDE: f64 = 8.685_889_638;
/// √(1 − 2/π) over √(2/π): relative standard deviation of a rectified Gaussian.
const RECTIFIED_GAUSSIAN: f64 = 0.755_51;

/// Shape of a step's sum.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Shape {
    /// Nothing random.
    Certain,
    Uniform,
    TwoUniform,
    /// Uniform noise of power 1/3 and a sine of power 1/2.
    UniformAndTone,
    Gaussian,
    Pink,
}

impl Shape {
    fn of(step: usize) -> Self {
        let step = &STEPS[step];
        if step.is_null() {
            return Self::Certain;
        }
        match (step.feed_1, step.feed_2) {
            (Sound::A | Sound::Silence, Sound::Silence | Sound::A) => Self::Uniform,
            (Sound::A, Sound::HiddenTone) => Self::UniformAndTone,
            (Sound::A, _) => Self::TwoUniform,
            (Sound::Gaussian, _) => Self::Gaussian,
            (Sound::Pink, _) => Self::Pink,
            _ => Self::Certain,
        }
    }

    /// After a filter has mixed many samples, any of these noises is bell-shaped.
    fn filtered(self) -> Self {
        match self {
            Self::Uniform | Self::TwoUniform | Self::UniformAndTone => Self::Gaussian,
            other => other,
        }
    }

    /// Relative variance of one sample's square.
    fn square_variance(self) -> f64 {
        match self {
            Self::Certain => 0.0,
            Self::Uniform => 0.8,
            Self::TwoUniform => 1.4,
            // (κ − 1)·Pa² + 4·Pa·Pt over (Pa + Pt)², Pa = 1/3, Pt = 1/2.
            Self::UniformAndTone => (0.8 / 9.0 + 4.0 / 6.0) / (25.0 / 36.0),
            Self::Gaussian | Self::Pink => 2.0,
        }
    }

    /// Relative standard deviation of one sample's magnitude.
    fn magnitude_deviation(self) -> f64 {
        match self {
            Self::Certain => 0.0,
            Self::Uniform => (1.0f64 / 3.0).sqrt(),
            Self::TwoUniform => 0.5f64.sqrt(),
            // Between its parts' and the bell's; the bell's bounds it.
            Self::UniformAndTone | Self::Gaussian | Self::Pink => RECTIFIED_GAUSSIAN,
        }
    }
}

/// Standard error, in decibels, of the mean square of noise of kurtosis `kurtosis` that fills
/// `bandwidth_hz` for `length_s`.
#[must_use]
pub fn mean_square_error_db(kurtosis: f64, bandwidth_hz: f64, length_s: f64) -> f64 {
    DB_PER_POWER * ((kurtosis - 1.0) / (2.0 * bandwidth_hz * length_s)).sqrt()
}

/// Standard error of the correlation coefficient of two independent noises that fill
/// `bandwidth_hz` for `length_s`.
#[must_use]
pub fn correlation_error(bandwidth_hz: f64, length_s: f64) -> f64 {
    (2.0 * bandwidth_hz * length_s).sqrt().recip()
}

/// Standard error, in decibels, of what a detector shows in a step (index in [`STEPS`]) and band.
#[must_use]
pub fn standard_error_db(rate_hz: f64, step: usize, band: usize, detector: Detector) -> f64 {
    let upper_hz = Edges::default().high_hz();
    let limited = band == 1 && stop_edge_hz(rate_hz, upper_hz).is_some();
    let bandwidth_hz = if limited { upper_hz } else { rate_hz / 2.0 };
    let shape = Shape::of(step);
    // K-weighting is flat enough to leave a distribution as it is.
    let shape = if limited { shape.filtered() } else { shape };
    let length_s = Schedule::settled_s();
    let samples = match shape {
        Shape::Pink => 2.0 * pink_bandwidth_hz(bandwidth_hz) * length_s,
        _ => 2.0 * bandwidth_hz * length_s,
    };
    if shape == Shape::Certain {
        return 0.0;
    }
    match detector {
        Detector::Rms | Detector::Momentary => {
            DB_PER_POWER * (shape.square_variance() / samples).sqrt()
        }
        Detector::Needle => DB_PER_AMPLITUDE * shape.magnitude_deviation() / samples.sqrt(),
        Detector::SamplePeak => peak_error_db(shape, samples),
        // The waveform between samples is bell-shaped whatever the samples are.
        Detector::TruePeak => peak_error_db(shape.filtered(), samples),
        Detector::Programme1 => programme::error_db(shape, samples, length_s, ProgrammeType::I),
        Detector::Programme2 => programme::error_db(shape, samples, length_s, ProgrammeType::II),
    }
}

/// (∫S)²/∫S² of noise whose density falls with frequency from 20 Hz on.
fn pink_bandwidth_hz(upper_hz: f64) -> f64 {
    const LOWER_HZ: f64 = 20.0;
    (upper_hz / LOWER_HZ).ln().powi(2) / (1.0 / LOWER_HZ - 1.0 / upper_hz)
}

fn peak_error_db(shape: Shape, samples: f64) -> f64 {
    match shape {
        Shape::Certain => 0.0,
        // The largest of N falls short of the bound by 1/N on average, and as much either way.
        Shape::Uniform => DB_PER_AMPLITUDE / samples,
        // Shortfall from 2 is Rayleigh: mean √(π/N), deviation √((4 − π)/N).
        Shape::TwoUniform => DB_PER_AMPLITUDE * ((4.0 - PI) / samples).sqrt() / 2.0,
        Shape::UniformAndTone | Shape::Gaussian | Shape::Pink => {
            DB_PER_AMPLITUDE * gumbel_deviation() / (2.0 * samples.ln())
        }
    }
}

/// π/√6: standard deviation of Gumbel's law in its own unit.
fn gumbel_deviation() -> f64 {
    PI / 6f64.sqrt()
}

/// Tolerance, in decibels, of a step's level against step 1: 95 % of the standard errors of both.
#[must_use]
pub fn tolerance_db(rate_hz: f64, step: usize, band: usize, detector: Detector) -> f64 {
    tolerance_between_db(rate_hz, [step, 0], band, detector)
}

/// The same of the levels of two steps against each other.
pub(super) fn tolerance_between_db(
    rate_hz: f64,
    steps: [usize; 2],
    band: usize,
    detector: Detector,
) -> f64 {
    let [one, other] = steps.map(|step| standard_error_db(rate_hz, step, band, detector));
    COVERAGE * one.hypot(other)
}

/// How deep, against step 1, a null is at least if the channels match within step 2's tolerance, in
/// decibels: 20·log10(1 − 10^(−tolerance/20)).
pub(super) fn null_limit_db(match_tolerance_db: f64, rate_hz: f64) -> f64 {
    let tolerance = match_tolerance_db.max(mismatch_tolerance_db(rate_hz));
    20.0 * (1.0 - 10f64.powf(-tolerance / 20.0)).log10()
}

/// How far the channels' gains may differ, in decibels: step 2's tolerance for whole-band RMS.
pub(super) fn mismatch_tolerance_db(rate_hz: f64) -> f64 {
    tolerance_db(rate_hz, 1, 0, Detector::Rms)
}

/// How far the largest sample of a noise floor may lie above that of another stretch of it, in
/// decibels.
pub(super) fn silence_error_db(rate_hz: f64) -> f64 {
    let samples = rate_hz * Schedule::settled_s();
    COVERAGE * std::f64::consts::SQRT_2 * peak_error_db(Shape::Gaussian, samples)
}
