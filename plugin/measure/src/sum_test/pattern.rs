//! A pattern for a demonstration: one pair of noises after another on the two feeds, over and over.
//!
//! It has neither a beginning nor an end, markers nor silence, and nothing to be recorded: feed 1
//! plays a noise all the time, and feed 2 changes what it plays beside it. Like the test's feeds it
//! is a pure function of the frame, so that players need no connection to each other.

mod shown;

use std::f64::consts::PI;

use serde::Serialize;

use super::feed::{Feed, amplitude};
use super::noise::{gaussian, pink, uniform};
use super::schedule::{DELAY_S, FADE_S, RATE_RANGE_HZ};

/// How long each pair plays unless set otherwise, in seconds: long enough for held peaks and for a
/// change to be named.
pub const USUAL_EACH_S: f64 = 6.0;
/// The shortest and the longest time that each pair can play, in seconds.
pub const EACH_RANGE_S: (f64, f64) = (2.0, 120.0);
/// RMS of the Gaussian noise against its highest peak. What lies beyond five times the RMS is
/// clamped: about one sample in two million, so that held peaks are those of Gaussian noise.
const GAUSSIAN_SHARE: f64 = 0.2;

// Other noises than the test's, so that nothing takes the one for the other.
const SEED_A: u64 = 0x5EED_1A00;
const SEED_B: u64 = 0x5EED_1B00;

/// How the samples of a noise are distributed, and its spectrum. The level of each is its highest
/// peak: two equal ones at [`HIGHEST_LEVEL_DBFS`](super::HIGHEST_LEVEL_DBFS) just fill full scale,
/// whichever they are, so they differ in RMS.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NoiseKind {
    /// White, every value as likely as another: the RMS lies 4.8 dB below the level.
    #[default]
    Uniform,
    /// White, normally distributed: the RMS lies 14.0 dB below the level.
    Gaussian,
    /// 3 dB down an octave as far down as [`pink`] goes, nearly normally distributed: the RMS lies
    /// 15.2 dB below the level.
    Pink,
}

impl NoiseKind {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Uniform, Self::Gaussian, Self::Pink];

    /// Its name in a sentence and as an option's value.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Uniform => "uniform",
            Self::Gaussian => "Gaussian",
            Self::Pink => "pink",
        }
    }

    /// The sample of this index of the noise that a seed names, within ±1.
    #[must_use]
    pub fn sample(self, seed: u64, index: u64) -> f64 {
        match self {
            Self::Uniform => uniform(seed, index),
            Self::Gaussian => (GAUSSIAN_SHARE * gaussian(seed, index)).clamp(-1.0, 1.0),
            Self::Pink => pink(seed, index),
        }
    }
}

/// What the two feeds play at once: feed 1 always a noise, feed 2 one of these.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Pair {
    /// The same noise.
    Same,
    /// Another noise, independent of it.
    Independent,
    /// The same noise, late by [`DELAY_S`].
    Delayed,
    /// The same noise inverted: an ideal sum is silent.
    Inverted,
}

impl Pair {
    /// All of them, in the order in which they play: silence last, so that every other one follows a
    /// sound that it can be held against.
    pub const ALL: [Self; 4] = [Self::Same, Self::Independent, Self::Delayed, Self::Inverted];

    /// The name by which it is typed.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Same => "same",
            Self::Independent => "independent",
            Self::Inverted => "inverted",
            Self::Delayed => "delayed",
        }
    }

    /// A few words, as the test's steps have them.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Same => "the same noise on both",
            Self::Independent => "independent noises",
            Self::Inverted => "the same noise, one inverted: null",
            Self::Delayed => "the same noise, 100 ms late",
        }
    }
}

/// The pattern at one sample rate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pattern {
    rate_hz: f64,
    noise: NoiseKind,
    each: i64,
    delay: i64,
    fade: i64,
}

impl Pattern {
    /// The pattern at `rate_hz`, each pair for `each_s` seconds. `None` where the test cannot play
    /// either, and for times outside of [`EACH_RANGE_S`].
    #[must_use]
    pub fn new(rate_hz: u32, noise: NoiseKind, each_s: f64) -> Option<Self> {
        if !(RATE_RANGE_HZ.0..=RATE_RANGE_HZ.1).contains(&rate_hz)
            || !(EACH_RANGE_S.0..=EACH_RANGE_S.1).contains(&each_s)
        {
            return None;
        }
        let rate_hz = f64::from(rate_hz);
        let frames = |s: f64| (s * rate_hz).round() as i64;
        Some(Self {
            rate_hz,
            noise,
            each: frames(each_s),
            delay: frames(DELAY_S),
            fade: frames(FADE_S),
        })
    }

    /// The sample rate in Hz.
    #[must_use]
    pub fn rate_hz(&self) -> f64 {
        self.rate_hz
    }

    /// The noise that it is made of.
    #[must_use]
    pub fn noise(&self) -> NoiseKind {
        self.noise
    }

    /// How long each pair plays, in frames.
    #[must_use]
    pub fn each_frames(&self) -> u64 {
        self.each.unsigned_abs()
    }

    /// From one beginning of the first pair to the next, in frames.
    #[must_use]
    pub fn cycle_frames(&self) -> u64 {
        self.each_frames() * Pair::ALL.len() as u64
    }

    /// What plays at `frame`, and for how many frames already. In the first [`FADE_S`] of these the
    /// pair before it fades out.
    #[must_use]
    pub fn pair(&self, frame: i64) -> (Pair, u64) {
        let at = frame.rem_euclid(self.each * Pair::ALL.len() as i64);
        (Pair::ALL[(at / self.each) as usize], (at % self.each).unsigned_abs())
    }

    /// The sample of a feed at `frame`, which may be negative, at a level in dBFS of the peak.
    /// Levels above [`HIGHEST_LEVEL_DBFS`](super::HIGHEST_LEVEL_DBFS), or that are no number, play at
    /// that limit or not at all.
    #[must_use]
    pub fn sample(&self, feed: Feed, frame: i64, level_dbfs: f64) -> f32 {
        (amplitude(level_dbfs) * self.value(feed, frame)) as f32
    }

    /// Fills `out` with the samples from `start` on.
    pub fn fill(&self, feed: Feed, start: i64, level_dbfs: f64, out: &mut [f32]) {
        let amplitude = amplitude(level_dbfs);
        for (passed, out) in (0..).zip(out) {
            *out = (amplitude * self.value(feed, start.wrapping_add(passed))) as f32;
        }
    }

    /// So many cycles from frame 0 on, whose end fades into their beginning: repeated, they make a
    /// sound without a seam.
    #[must_use]
    pub fn repeating(&self, feed: Feed, cycles: u64, level_dbfs: f64) -> Vec<f32> {
        let length = (cycles * self.cycle_frames()).cast_signed();
        self.without_seam(length, level_dbfs, |frame| self.value(feed, frame))
    }

    /// The two independent noises themselves for so many frames, each without a seam where it is
    /// repeated: for whoever makes the pairs at the mixer.
    #[must_use]
    pub fn noises(&self, frames: u64, level_dbfs: f64) -> [Vec<f32>; 2] {
        [SEED_A, SEED_B].map(|seed| {
            let value = |frame| self.noise_at(seed, frame);
            self.without_seam(frames.cast_signed(), level_dbfs, value)
        })
    }

    /// So many frames of what would go on, the end fading into the beginning.
    fn without_seam(&self, length: i64, level_dbfs: f64, value: impl Fn(i64) -> f64) -> Vec<f32> {
        let amplitude = amplitude(level_dbfs);
        let sample = |frame: i64| {
            let share = self.faded_in(frame - (length - self.fade));
            let goes_on = value(frame);
            let returns = if share > 0.0 { share * (value(frame - length) - goes_on) } else { 0.0 };
            (amplitude * (goes_on + returns)) as f32
        };
        (0..length).map(sample).collect()
    }

    /// The sample for a level of 0 dBFS.
    fn value(&self, feed: Feed, frame: i64) -> f64 {
        if feed == Feed::One {
            return self.noise_at(SEED_A, frame);
        }
        let (pair, since) = self.pair(frame);
        let new = self.beside(pair, frame);
        let share = self.faded_in(since.cast_signed());
        if share == 1.0 {
            return new;
        }
        let (before, _) = self.pair(frame.wrapping_sub(self.each));
        let old = self.beside(before, frame);
        old + share * (new - old)
    }

    /// What feed 2 plays in a pair.
    fn beside(&self, pair: Pair, frame: i64) -> f64 {
        match pair {
            Pair::Same => self.noise_at(SEED_A, frame),
            Pair::Independent => self.noise_at(SEED_B, frame),
            Pair::Inverted => -self.noise_at(SEED_A, frame),
            Pair::Delayed => self.noise_at(SEED_A, frame.wrapping_sub(self.delay)),
        }
    }

    /// Before frame 0 the counter has wrapped around, and the noise is as random there.
    fn noise_at(&self, seed: u64, frame: i64) -> f64 {
        self.noise.sample(seed, frame.cast_unsigned())
    }

    /// Raised cosine: how loud something is `frames` after it began to fade in.
    fn faded_in(&self, frames: i64) -> f64 {
        // Nearly every sample: not worth a cosine.
        if frames >= self.fade {
            1.0
        } else if frames <= 0 {
            0.0
        } else {
            0.5 - 0.5 * (PI * frames as f64 / self.fade as f64).cos()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The pattern at 48 kHz, 2 s a pair, and both feeds' values from a frame on.
    fn played(noise: NoiseKind, start: i64, frames: usize) -> [Vec<f32>; 2] {
        let pattern = Pattern::new(48_000, noise, 2.0).expect("a pattern");
        [Feed::One, Feed::Two].map(|feed| {
            let mut out = vec![0.0; frames];
            pattern.fill(feed, start, -10.0, &mut out);
            out
        })
    }

    fn peak_dbfs(samples: impl Iterator<Item = f32>) -> f64 {
        20.0 * f64::from(samples.map(f32::abs).fold(0.0, f32::max)).log10()
    }

    #[test]
    fn pairs_of_uniform_noise_show_a_sample_peak_meter_no_difference_between_same_and_independent()
    {
        let sum_dbfs = |start: i64| {
            let [one, two] = played(NoiseKind::Uniform, start, 90_000);
            peak_dbfs(one.iter().zip(&two).map(|(one, two)| one + two))
        };
        // What the first of 96 000 frames of a pair fade in stays out.
        let [same, independent] = [3_000, 99_000].map(sum_dbfs);
        assert!((same - -3.98).abs() < 0.01, "{same}");
        // The largest of 90 000 sums of two: 1 − √(1/90 000) of the range, 0.03 dB below.
        assert!((independent - -4.0).abs() < 0.1, "{independent}");
    }

    #[test]
    fn each_pair_is_what_it_says_in_every_cycle_and_before_the_beginning() {
        for noise in NoiseKind::ALL {
            for cycle in [-1, 0, 7] {
                let start = cycle * 4 * 96_000;
                let [one, two] = played(noise, start, 4 * 96_000);
                let inside = |pair: usize| pair * 96_000 + 960..(pair + 1) * 96_000;
                assert!(inside(0).all(|at| two[at] == one[at]));
                assert!(inside(2).all(|at| two[at] == one[at - 4_800]));
                assert!(inside(3).all(|at| two[at] == -one[at]));
                let product = |at: usize| f64::from(one[at]) * f64::from(two[at]);
                let power: f64 = inside(1).map(|at| f64::from(one[at]).powi(2)).sum();
                let correlation = inside(1).map(product).sum::<f64>() / power;
                assert!(correlation.abs() < 0.2, "{noise:?}: {correlation}");
            }
        }
    }

    #[test]
    fn no_noise_is_louder_than_its_level_and_their_rms_is_as_documented() {
        for (noise, rms_db) in
            [(NoiseKind::Uniform, -4.77), (NoiseKind::Gaussian, -13.98), (NoiseKind::Pink, -15.18)]
        {
            let [one, two] = played(noise, 0, 384_000);
            for feed in [&one, &two] {
                assert!(peak_dbfs(feed.iter().copied()) <= -10.0 + 1e-6, "{noise:?}");
            }
            let power = one.iter().map(|v| f64::from(*v).powi(2)).sum::<f64>() / 384_000.0;
            let rms = 10.0 * power.log10() + 10.0;
            // Eight seconds of pink noise have few of its slowest values.
            assert!((rms - rms_db).abs() < 0.3, "{noise:?}: {rms}");
        }
    }

    #[test]
    fn a_repeating_stretch_goes_on_into_its_beginning() {
        let pattern = Pattern::new(48_000, NoiseKind::Pink, 2.0).expect("a pattern");
        for feed in [Feed::One, Feed::Two] {
            let stretch = pattern.repeating(feed, 1, -10.0);
            assert_eq!(stretch.len(), 384_000);
            let before = pattern.sample(feed, -1, -10.0);
            let last = stretch[stretch.len() - 1];
            assert!((last - before).abs() < 1e-5, "{last} instead of {before}");
            assert_eq!(stretch[0], pattern.sample(feed, 0, -10.0));
        }
    }
}
