//! Level detectors as meters contain them: what a needle, a programme meter, an RMS, peak or
//! loudness reading shows of one signal.
//!
//! Each is a model of one published definition, named in its own file. Constructing one allocates,
//! `reset` clears it, `take` works without allocation, and how the samples are cut into slices
//! changes nothing. Values that are no sample count as silence.
//!
//! A detector tells two things: the highest level that it has shown, and what it showed on average
//! once it had settled. The first is how bursts and peaks are read, the second how anybody reads a
//! moving needle or number on a steady sound.

mod bank;
mod momentary;
mod needle;
mod quasi_peak;
mod rms;
mod sample_peak;
mod true_peak;

use crate::sample::sample_or_silence;

pub use crate::meter_kind::{Detector, MeterKind};
pub use bank::{Bank, Shown};
pub use momentary::Momentary;
pub use needle::Needle;
pub(crate) use quasi_peak::Branch;
pub use quasi_peak::{ProgrammeType, QuasiPeak};
pub use rms::Rms;
pub use sample_peak::SamplePeak;
pub use true_peak::TruePeak;

/// From here after a reset, in seconds, averages of what was shown count: the slowest window
/// (400 ms) has filled and the needle's overshoot has died away.
pub const SETTLING_S: f64 = 0.75;

/// The sample in double precision; silence if it is none.
#[inline(always)]
fn sample(value: f32) -> f64 {
    f64::from(sample_or_silence(value))
}

/// How many samples pass before averages count.
fn settling_frames(rate_hz: f64) -> u64 {
    (SETTLING_S * rate_hz).round() as u64
}
