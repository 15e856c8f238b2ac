//! Decorrelation time: how late a copy of a sound has to come to add like an independent one.
//!
//! Of a sound and its copy τ later, the power is 2·(1 + ρ(τ)) times that of the sound, ρ being its
//! normalised autocorrelation. Where |ρ| stays below 0.1, the two are within 0.5 dB of independent
//! ones. ρ is the cosine transform of the mean power spectrum (Wiener and Khinchin) divided by the
//! autocorrelation of the window that the spectrum was taken under: a window of finite length tapers
//! what lies further apart.
//!
//! ρ of a finite stretch scatters: sound of bandwidth W heard for T scatters by about √(1/2WT) at long
//! delays. How far is seen from two means over transforms in turn, and where chance alone could pass
//! 0.1, no time is told.

mod search;
mod sentence;

use std::cell::RefCell;
use std::ops::Range;

use rustfft::Fft;
use rustfft::num_complex::Complex32;
use serde::{Serialize, Serializer};

use crate::hann;
use crate::highest::{total, total_of};
use crate::settings::Edges;

/// Longest delay that is told, in ms.
pub const LONGEST_MS: f64 = 500.0;
/// What ρ stays below: the sum is then between −0.46 and +0.41 dB of that of independent sounds.
pub const MOST_CORRELATION: f64 = 0.1;

/// ρ is followed so much further, in ms: what crosses zero at the longest delay is not over.
const BEYOND_MS: f64 = 25.0;
/// Standard deviations that chance is allowed.
const DEVIATIONS: f64 = 4.5;
/// Dividing by the window lets the variance of ρ rise with the delay, up to this at the longest.
const FAR_VARIANCE: f64 = 1.34;
/// The transforms are in single precision: of a band that holds less of the power, they say nothing.
const LEAST_SHARE: f64 = 1e-11;

/// How late a copy has to come.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum DecorrelationTime {
    /// It cannot be told: silence, or too little sound for how narrow it is.
    #[default]
    Unknown,
    /// So many milliseconds.
    Ms(f64),
    /// Longer than [`LONGEST_MS`].
    Longer,
}

impl DecorrelationTime {
    /// The time in ms, where there is one.
    #[must_use]
    pub fn ms(self) -> Option<f64> {
        match self {
            Self::Ms(ms) => Some(ms),
            Self::Unknown | Self::Longer => None,
        }
    }
}

/// A number, the string `">500"`, or `null`.
impl Serialize for DecorrelationTime {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Self::Unknown => serializer.serialize_none(),
            Self::Ms(ms) => serializer.serialize_f64(*ms),
            Self::Longer => serializer.serialize_str(&format!(">{LONGEST_MS}")),
        }
    }
}

/// The decorrelation time of the bus in both bands.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Decorrelation {
    /// Of the sound as stored, DC included.
    pub whole: DecorrelationTime,
    /// Of what lies between the edges.
    pub audible: DecorrelationTime,
}

impl Decorrelation {
    /// It in plain words; none where nothing is told of either band. Allocates.
    #[must_use]
    pub fn sentence(&self) -> Option<String> {
        sentence::of(self)
    }
}

/// Power spectra under a Hann window, `[bin]` from 0 Hz up, as sums over two sets of transforms that
/// take turns.
pub(crate) struct Powers<'a> {
    pub(crate) sets: [&'a [f64]; 2],
    /// Distance of two bins, in Hz: one over the window's length.
    pub(crate) bin_hz: f64,
    /// The transform that they were made by, and what it takes.
    pub(crate) fft: &'a dyn Fft<f32>,
    pub(crate) buffers: &'a RefCell<Buffers>,
}

/// What a transform of a second takes: some megabytes. To be given them anew takes longer than the transform.
pub(crate) struct Buffers {
    pub(crate) from: Vec<Complex32>,
    pub(crate) to: Vec<Complex32>,
    pub(crate) scratch: Vec<Complex32>,
}

impl Buffers {
    pub(crate) fn of(fft: &dyn Fft<f32>) -> Self {
        let [from, to, scratch] = [fft.len(), fft.len(), fft.get_outofplace_scratch_len()]
            .map(|length| vec![Complex32::default(); length]);
        Self { from, to, scratch }
    }
}

/// Reads the times from the spectra of a bus.
pub(crate) fn read(powers: &Powers, edges: Edges) -> Decorrelation {
    let bins = powers.sets[0].len();
    let bin = |hz: f64| ((hz / powers.bin_hz).ceil() as usize).min(bins);
    let audible = bin(edges.low_hz())..bin(edges.high_hz());
    Decorrelation { whole: time(powers, 0..bins), audible: time(powers, audible) }
}

/// The time of what lies in some bins.
fn time(powers: &Powers, bins: Range<usize>) -> DecorrelationTime {
    let sums = powers.sets.map(|set| total(&set[bins.clone()]));
    let all: f64 = powers.sets.into_iter().map(total).sum();
    let sum = sums[0] + sums[1];
    if sums.contains(&0.0) || sum < LEAST_SHARE * all {
        return DecorrelationTime::Unknown;
    }
    let chance = DEVIATIONS * deviation(powers, bins.clone(), sums);
    let ([one, other], share) = (powers.sets, 1.0 / sum);
    let level = |bin: usize| (one[bin] + other[bin]) * share;
    let mut buffers = powers.buffers.borrow_mut();
    let found = search::last_above(bins, powers.bin_hz, powers.fft, &mut buffers, level);
    if chance > MOST_CORRELATION && found.far < MOST_CORRELATION + chance {
        DecorrelationTime::Unknown
    } else if found.ms > LONGEST_MS {
        DecorrelationTime::Longer
    } else {
        DecorrelationTime::Ms(found.ms)
    }
}

/// The standard deviation of ρ at long delays, from how the two sets differ.
///
/// By Parseval, the mean square over all lags of the difference of their autocorrelations is half the
/// sum of the squares of their differences by bin. At each lag, what chance makes goes with the square
/// of the window's products: the mean over all lags, against that at none, is the squared mean square
/// of the window over its mean fourth power.
fn deviation(powers: &Powers, bins: Range<usize>, sums: [f64; 2]) -> f64 {
    let [one, other] = powers.sets.map(|set| &set[bins.clone()]);
    let shares = sums.map(|sum| 1.0 / sum);
    let squares = total_of(one, other, |one, other| {
        let difference = one * shares[0] - other * shares[1];
        difference * difference
    });
    let variance = squares / 2.0 * hann::MEAN_FOURTH / hann::MEAN_SQUARE.powi(2);
    // Each set counts by its power. Two even ones scatter by half their difference together.
    let share = sums[0].max(sums[1]) / (sums[0] + sums[1]);
    share * (FAR_VARIANCE * variance).sqrt()
}
