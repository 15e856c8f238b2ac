//! A bound for the waveform of a steady tone, which tops out at the same height again and again, so
//! that no bound on the size of its samples passes over it.
//!
//! Samples of a tone of ω a sample obey x(n − 1) + x(n + 1) = 2·cos ω·x(n). Let r(n) be what a signal
//! misses that by. Written out from two neighbouring samples, each further one is that of the tone
//! through the two and a sum of the r on the way, weighed by sin(ωm)/sin ω, m samples on. So the
//! interpolation between the two is off the tone by no more than the largest r in reach times a gain that
//! depends on ω and the filter, and up to a quarter of the rate is below 1 for all of ours
//! (a test holds the gain against the filters). The tone itself reaches no further than its amplitude,
//! A² = (x(n)² + x(n + 1)² − 2·cos ω·x(n)·x(n + 1)) / sin² ω. All of that holds for any ω: where it is
//! not the signal's, r is large and the bound high.

use crate::batch::{BATCH_FRAMES, Batch};
use crate::peak::magnitude_bits;

/// 2 − 2·cos ω at a quarter of the rate.
const MOST_BEND: f32 = 2.0;
/// A signal that misses a tone by more than this share of its largest sample is none.
const MOST_MISSED: f32 = 1e-3;
/// Two guesses that differ by less than this share are one: the amplitude differs by half of it.
const SAME_BEND: f32 = 2e-5;
/// Longest pause between two guesses at ω, in batches.
const MOST_PAUSE: u32 = 64;

/// The tone that a signal may be.
#[derive(Clone)]
pub(super) struct Steady {
    /// 2 − 2·cos ω; 0 where no tone is known.
    bend: f32,
    /// The largest magnitude of r in the batch before; infinite where it is not known.
    missed: f32,
    /// Batches until the next guess, and how many follow until the one after it.
    until_guess: u32,
    pause: u32,
}

impl Steady {
    pub(super) const UNKNOWN: Self =
        Self { bend: 0.0, missed: f32::INFINITY, until_guess: 0, pause: 1 };

    /// No point of the waveform between the sample `first` and the one `BATCH_FRAMES + 1` behind it is
    /// higher. `samples` ends with a new batch, whose largest magnitude is `largest`.
    #[inline(always)]
    pub(super) fn bound(&mut self, samples: &[f32], first: usize, largest: f32) -> f32 {
        if self.bend == 0.0 && !self.guess(samples) {
            return f32::INFINITY;
        }
        let missed = most_missed(samples, self.bend);
        if missed > MOST_MISSED * largest {
            self.bend = 0.0;
            return f32::INFINITY;
        }
        let in_reach = f32::max(missed, self.missed);
        self.missed = missed;
        if in_reach == f32::INFINITY {
            return f32::INFINITY;
        }
        highest_amplitude(&samples[first..], self.bend) + in_reach
    }

    /// A batch has passed for which no bound was asked.
    #[inline(always)]
    pub(super) fn pass(&mut self) {
        self.missed = f32::INFINITY;
    }

    /// The bound lay low enough.
    #[inline(always)]
    pub(super) fn keep(&mut self) {
        (self.until_guess, self.pause) = (0, 1);
    }

    /// The bound lay too high: a better guess, from the latest batch, may lower it.
    #[inline(always)]
    pub(super) fn improve(&mut self, samples: &[f32]) {
        if self.bend > 0.0 {
            self.guess(samples);
        }
    }

    /// Makes a guess at the tone, from the latest batch, if it is time to; false if none is known then.
    #[inline(always)]
    fn guess(&mut self, samples: &[f32]) -> bool {
        if self.until_guess > 0 {
            self.until_guess -= 1;
            return false;
        }
        self.until_guess = self.pause;
        self.pause = u32::min(2 * self.pause, MOST_PAUSE);
        let bend = fitted_bend(samples);
        if bend > 0.0 && bend <= MOST_BEND && (bend - self.bend).abs() > SAME_BEND * self.bend {
            (self.bend, self.missed) = (bend, f32::INFINITY);
        }
        self.bend > 0.0
    }
}

/// The latest samples that have one behind them, each with its neighbours: before, here, behind.
#[inline(always)]
fn latest(samples: &[f32]) -> [&Batch; 3] {
    let run = |behind: usize| -> &Batch {
        let end = samples.len() - 2 + behind;
        samples[..end].last_chunk().expect("a batch and two samples before it")
    };
    [run(0), run(1), run(2)]
}

/// 2 − 2·cos ω of the tone that misses the latest samples least, in squares.
#[inline(always)]
fn fitted_bend(samples: &[f32]) -> f32 {
    let [before, here, behind] = latest(samples);
    let (mut product, mut square) = (0.0, 0.0);
    for i in 0..BATCH_FRAMES {
        let second = (here[i] - before[i]) - (behind[i] - here[i]);
        product += second * here[i];
        square += here[i] * here[i];
    }
    product / square
}

/// The largest magnitude of r in the latest samples.
#[inline(always)]
fn most_missed(samples: &[f32], bend: f32) -> f32 {
    let [before, here, behind] = latest(samples);
    let mut most = 0;
    for i in 0..BATCH_FRAMES {
        // Differences first: of a slow tone they are small, and exact.
        let second = (here[i] - before[i]) - (behind[i] - here[i]);
        most = u32::max(most, magnitude_bits(second - bend * here[i]));
    }
    f32::from_bits(most)
}

/// The highest amplitude of the tones through two neighbours of the first `BATCH_FRAMES + 2` samples.
#[inline(always)]
fn highest_amplitude(samples: &[f32], bend: f32) -> f32 {
    let here = &samples[..=BATCH_FRAMES];
    let behind = &samples[1..][..=BATCH_FRAMES];
    // The bits of a negative number are one of the lowest whole numbers.
    let mut most = 0;
    for (&here, &behind) in here.iter().zip(behind) {
        most = i32::max(most, square(here, behind, bend).to_bits().cast_signed());
    }
    (f32::from_bits(most.cast_unsigned()) / (bend - bend * bend / 4.0)).sqrt()
}

/// The square of the amplitude of the tone through two neighbours, times sin² ω.
#[inline(always)]
fn square(here: f32, behind: f32, bend: f32) -> f32 {
    let slope = behind - here;
    slope * slope + bend * (here * behind)
}

#[cfg(test)]
mod tests;
