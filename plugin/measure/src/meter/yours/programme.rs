//! A programme meter that moves by batches: what [`QuasiPeak`](crate::detector::QuasiPeak) shows of the
//! same samples, within a few hundredths of a decibel, in a fraction of its time.
//!
//! Most samples charge nothing, and a follower falls through all of those at once. The slow follower of
//! Type II charges so little in a few samples that these may come in any order.

use crate::detector::{Branch, ProgrammeType};

/// Samples that are looked at together.
const STRIDE: usize = 8;
/// Below this a voltage means nothing, and is dropped before it becomes denormal and slow.
const NOTHING: f32 = 1e-20;

/// A charging and falling voltage.
#[derive(Debug, Clone, Copy)]
struct Follower {
    weight: f32,
    charge: f32,
    /// What falling leaves of it after so many samples, up to a stride.
    keep: [f32; STRIDE + 1],
    /// Share of the way that so many samples charge it, up to a stride.
    charges: [f32; STRIDE + 1],
    value: f32,
}

impl Follower {
    fn new(rate_hz: f64, (weight, attack_s, release_s): Branch) -> Self {
        let falls = |samples: usize| (-(samples as f64) / (rate_hz * release_s)).exp() as f32;
        let charges = |samples: usize| -(-(samples as f64) / (rate_hz * attack_s)).exp_m1() as f32;
        Self {
            weight: weight as f32,
            charge: charges(1),
            keep: std::array::from_fn(falls),
            charges: std::array::from_fn(charges),
            value: 0.0,
        }
    }

    /// Follows a stride sample by sample, and returns the highest that it came to.
    fn follow(&mut self, magnitudes: &[f32]) -> f32 {
        let (mut highest, mut since) = (self.value, 0);
        // It falls no lower than this, so that nothing below it charges.
        let floor = self.value * self.keep[STRIDE];
        for (index, &magnitude) in magnitudes.iter().enumerate() {
            if magnitude > floor {
                let value = self.value * self.keep[index - since];
                // What does not charge leaves it falling.
                if magnitude > value {
                    self.value = value + self.charge * (magnitude - value);
                    since = index + 1;
                    highest = highest.max(self.value);
                }
            }
        }
        self.value *= self.keep[magnitudes.len() - since];
        highest
    }

    /// Follows a stride as if what charges it came at once.
    fn follow_at_once(&mut self, magnitudes: &[f32]) {
        let (mut sum, mut count) = (0f32, 0usize);
        for &magnitude in magnitudes {
            let charges = magnitude > self.value;
            sum += if charges { magnitude } else { 0.0 };
            count += usize::from(charges);
        }
        let fallen = self.value * self.keep[magnitudes.len() - count];
        self.value = fallen + self.charges[count] * (sum / count.max(1) as f32 - fallen);
    }
}

/// See the module.
#[derive(Debug, Clone, Copy)]
pub(super) struct Programme {
    quick: Follower,
    /// Of Type II.
    slow: Option<Follower>,
    /// What a steady sine of amplitude 1 is shown as.
    rest: f32,
}

impl Programme {
    pub(super) fn new(rate_hz: f64, programme: ProgrammeType) -> Self {
        let [quick, slow] = programme.branches();
        Self {
            quick: Follower::new(rate_hz, quick),
            slow: (slow.0 > 0.0).then(|| Follower::new(rate_hz, slow)),
            rest: programme.rest_on_sine() as f32,
        }
    }

    pub(super) fn reset(&mut self) {
        self.quick.value = 0.0;
        self.slow.iter_mut().for_each(|slow| slow.value = 0.0);
    }

    /// What it shows now, linear: 1.0 is full scale.
    pub(super) fn linear(&self) -> f32 {
        self.shown(self.quick.value)
    }

    fn shown(&self, quick: f32) -> f32 {
        let slow = self.slow.map_or(0.0, |slow| slow.weight * slow.value);
        (self.quick.weight * quick + slow) / self.rest
    }

    /// Takes the next samples, and returns the highest that it shows of them, linear.
    pub(super) fn take(&mut self, samples: &[f32]) -> f32 {
        let mut highest = self.linear();
        for stride in samples.chunks(STRIDE) {
            let mut magnitudes = [0f32; STRIDE];
            for (magnitude, sample) in magnitudes.iter_mut().zip(stride) {
                *magnitude = sample.abs();
            }
            let magnitudes = &magnitudes[..stride.len()];
            if let Some(slow) = &mut self.slow {
                slow.follow_at_once(magnitudes);
            }
            let largest = magnitudes.iter().fold(0f32, |a, &b| a.max(b));
            if largest <= self.quick.value * self.quick.keep[STRIDE] {
                self.quick.value *= self.quick.keep[stride.len()];
            } else {
                let quick = self.quick.follow(magnitudes);
                highest = highest.max(self.shown(quick));
            }
        }
        for follower in [Some(&mut self.quick), self.slow.as_mut()].into_iter().flatten() {
            if follower.value < NOTHING {
                follower.value = 0.0;
            }
        }
        highest
    }
}
