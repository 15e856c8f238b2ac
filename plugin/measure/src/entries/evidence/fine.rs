//! A fine spectrum, kept small: half decibels below the strongest bin, a byte each.

use std::ops::Range;

use super::super::finder::FIRST_EDGE_HZ;
use crate::meter::FineSpectrum;

/// Half decibels below the strongest bin that can be told.
const STEPS: f32 = 254.0;
/// Up to here spectra are kept, in Hz.
const HIGHEST_HZ: f64 = 24_000.0;
/// From where on what wanders is audible, about.
const AUDIBLE_FROM_HZ: f64 = 20.0;

/// The spectra of an entry up to 24 kHz.
#[derive(Debug, Clone, Default)]
pub(crate) struct Fine {
    /// Of A + B.
    pub(crate) sum: Kept,
    /// Of all channels.
    pub(crate) bus: Kept,
    /// Transforms in the mean.
    pub(crate) transforms: u64,
    /// Distance of two bins, in Hz.
    pub(crate) bin_hz: f64,
}

/// One spectrum.
#[derive(Debug, Clone, Default)]
pub(crate) struct Kept {
    /// Half decibels below `strongest_db`, [`STEPS`] and more as one.
    bins: Vec<u8>,
    strongest_db: f32,
}

impl Fine {
    pub(crate) fn new(spectrum: &FineSpectrum) -> Self {
        let count = (HIGHEST_HZ / spectrum.bin_hz).floor() as usize;
        let kept = |powers: &[f32]| Kept::new(&powers[..count.min(powers.len())]);
        Self {
            sum: kept(&spectrum.sum),
            bus: kept(&spectrum.bus),
            transforms: spectrum.transforms,
            bin_hz: spectrum.bin_hz,
        }
    }

    /// The share of the bus's audible power that lies in the lowest band of the rows.
    pub(crate) fn lowest_share(&self) -> f64 {
        let bin = |hz: f64| ((hz / self.bin_hz).round() as usize).min(self.bus.len());
        if self.transforms == 0 {
            return 0.0;
        }
        let power = |bins: Range<usize>| -> f64 {
            bins.map(|bin| 10f64.powf(self.bus.db(bin) / 10.0)).sum()
        };
        let (lowest, rest) =
            (bin(AUDIBLE_FROM_HZ)..bin(FIRST_EDGE_HZ), bin(FIRST_EDGE_HZ)..self.bus.len());
        let [lowest, rest] = [lowest, rest].map(power);
        if lowest > 0.0 { lowest / (lowest + rest) } else { 0.0 }
    }
}

impl Kept {
    fn new(powers: &[f32]) -> Self {
        // What does not vibrate is not compared.
        let strongest = powers.iter().skip(1).copied().fold(f32::MIN_POSITIVE, f32::max);
        let below = |power: &f32| -20.0 * (power.max(f32::MIN_POSITIVE) / strongest).log10();
        Self {
            bins: powers.iter().map(|power| below(power).round().min(STEPS) as u8).collect(),
            strongest_db: 10.0 * strongest.log10(),
        }
    }

    /// How many bins there are.
    pub(crate) fn len(&self) -> usize {
        self.bins.len()
    }

    /// The power in a bin, in dBFS.
    pub(crate) fn db(&self, bin: usize) -> f64 {
        f64::from(self.strongest_db) - 0.5 * f64::from(self.bins[bin])
    }

    /// The level that half of the bins reach, in dBFS.
    pub(crate) fn median_db(&self) -> f64 {
        let mut bins = self.bins.clone();
        let middle = bins.len() / 2;
        let median = if bins.is_empty() { 0 } else { *bins.select_nth_unstable(middle).1 };
        f64::from(self.strongest_db) - 0.5 * f64::from(median)
    }
}
