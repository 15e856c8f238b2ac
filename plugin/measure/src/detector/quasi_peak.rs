//! Programme peak meters of IEC 60268-10: quasi-peak, quick to rise, slow to fall.
//!
//! The standard gives readings of 5 kHz bursts and return times, not a circuit. Type I is one
//! follower that charges through 1.36 ms; Type II is two followers side by side, since a single one
//! set by the standard's 2 dB at 10 ms reads its shortest bursts 2 dB low. A follower charges while
//! the rectified signal is above it and else falls exponentially. Tests hold the burst readings and
//! return times to the standard's.
//!
//! Calibrated on a steady 5 kHz sine, which reads its peak: 0 dBFS at full scale.

use std::f64::consts::{FRAC_PI_2, PI};

use pulp::{Arch, NullaryFnOnce};

use super::sample;
use crate::level::Level;

/// The two sets of dynamics that the standard has. IIa and IIb differ in the scale only.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ProgrammeType {
    /// Integration time 5 ms; falls 20 dB in 1.7 s.
    I,
    /// Integration time 10 ms; falls 24 dB in 2.8 s.
    II,
}

/// Weight, attack and release time constant (s) of one follower.
pub(crate) type Branch = (f64, f64, f64);

/// 20 dB in 1.7 s: 1.7 / ln(10).
const RELEASE_1_S: f64 = 0.738;
/// 24 dB in 2.8 s: 2.8 / (1.2·ln(10)).
const RELEASE_2_S: f64 = 1.013;

const TYPE_1: [Branch; 2] = [(1.0, 1.36e-3, RELEASE_1_S), (0.0, 1.0, RELEASE_1_S)];
const TYPE_2: [Branch; 2] = [(0.837, 1.69e-3, RELEASE_2_S), (0.163, 29.6e-3, RELEASE_2_S)];

impl ProgrammeType {
    /// The followers that make it up.
    pub(crate) fn branches(self) -> [Branch; 2] {
        match self {
            Self::I => TYPE_1,
            Self::II => TYPE_2,
        }
    }

    /// What the followers show together of a steady sine of amplitude 1.
    pub(crate) fn rest_on_sine(self) -> f64 {
        self.branches().iter().map(|&branch| branch.0 * rest_on_sine(branch)).sum()
    }
}

/// One charging and falling voltage.
#[derive(Debug, Clone, Copy)]
struct Follower {
    weight: f64,
    charge: f64,
    keep: f64,
    value: f64,
}

impl Follower {
    fn new(rate_hz: f64, (weight, attack_s, release_s): Branch) -> Self {
        Self {
            weight,
            charge: 1.0 - (-1.0 / (rate_hz * attack_s)).exp(),
            keep: (-1.0 / (rate_hz * release_s)).exp(),
            value: 0.0,
        }
    }

    #[inline(always)]
    fn follow(&mut self, magnitude: f64) -> f64 {
        // Both are worked out: which it will be, no processor can guess.
        let charged = self.value + self.charge * (magnitude - self.value);
        let fallen = self.value * self.keep;
        self.value = if magnitude > self.value { charged } else { fallen };
        self.weight * self.value
    }
}

/// Where a follower rests on a steady sine of amplitude 1: charge and fall balance over a cycle.
fn rest_on_sine((_, attack_s, release_s): Branch) -> f64 {
    let surplus = |rest: f64| {
        let angle = rest.asin();
        let charged = (2.0 / PI) * (angle.cos() - (FRAC_PI_2 - angle) * rest) / attack_s;
        let falling_share = 2.0 / PI * angle;
        charged - falling_share * rest / release_s
    };
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        if surplus(middle) > 0.0 { low = middle } else { high = middle }
    }
    low
}

/// A programme peak meter for one signal.
pub struct QuasiPeak {
    followers: [Follower; 2],
    calibration: f64,
    now: f64,
    highest: f64,
}

impl QuasiPeak {
    /// A meter of the type for a signal at `rate_hz`.
    #[must_use]
    pub fn new(rate_hz: f64, programme_type: ProgrammeType) -> Self {
        let branches = programme_type.branches();
        Self {
            followers: branches.map(|branch| Follower::new(rate_hz, branch)),
            calibration: 1.0 / programme_type.rest_on_sine(),
            now: 0.0,
            highest: 0.0,
        }
    }

    /// Forgets what came before.
    pub fn reset(&mut self) {
        for follower in &mut self.followers {
            follower.value = 0.0;
        }
        self.now = 0.0;
        self.highest = 0.0;
    }

    /// Takes the next samples.
    pub fn take(&mut self, samples: &[f32]) {
        Self::take_all([self], samples);
    }

    /// Lets several meters take the next samples of one signal: side by side, since each has to
    /// wait for its own last value.
    pub(super) fn take_all<const METERS: usize>(meters: [&mut Self; METERS], samples: &[f32]) {
        Arch::new().dispatch(Take { meters, samples });
    }

    /// Drops what has decayed before it becomes denormal and slow; far below any reading.
    fn settle(&mut self) {
        for follower in &mut self.followers {
            if follower.value < 1e-30 {
                follower.value = 0.0;
            }
        }
    }

    /// What the meter shows now, in dBFS.
    #[must_use]
    pub fn now(&self) -> Level {
        Level::from_amplitude(self.calibration * self.now)
    }

    /// The highest reading, in dBFS.
    #[must_use]
    pub fn highest(&self) -> Level {
        Level::from_amplitude(self.calibration * self.highest)
    }
}

/// The loop over the samples, as a type: what a closure holds would not be inlined where the wider
/// vectors are switched on.
struct Take<'a, const METERS: usize> {
    meters: [&'a mut QuasiPeak; METERS],
    samples: &'a [f32],
}

impl<const METERS: usize> NullaryFnOnce for Take<'_, METERS> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let Self { mut meters, samples } = self;
        let mut followers: [[Follower; 2]; METERS] = meters.each_ref().map(|meter| meter.followers);
        let mut now: [f64; METERS] = meters.each_ref().map(|meter| meter.now);
        let mut highest: [f64; METERS] = meters.each_ref().map(|meter| meter.highest);
        for &value in samples {
            let magnitude = sample(value).abs();
            for meter in 0..METERS {
                let [first, second] = &mut followers[meter];
                now[meter] = first.follow(magnitude) + second.follow(magnitude);
                highest[meter] =
                    if now[meter] > highest[meter] { now[meter] } else { highest[meter] };
            }
        }
        for (index, meter) in meters.iter_mut().enumerate() {
            (meter.followers, meter.now, meter.highest) =
                (followers[index], now[index], highest[index]);
            meter.settle();
        }
    }
}

#[cfg(test)]
mod tests;
