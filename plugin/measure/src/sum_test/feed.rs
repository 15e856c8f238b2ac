//! The two feeds: (feed, sample index, rate, level) gives the sample.

use std::f64::consts::{PI, TAU};

use super::marker;
use super::noise::{gaussian, pink, uniform};
use super::schedule::{DELAY_S, FADE_S, Moment, STEPS, Schedule, Sound, hidden_tone_hz};

/// Level at which the feeds start, in dBFS of the peak: this is noise into loudspeakers.
pub const USUAL_LEVEL_DBFS: f64 = -20.0;
/// The feeds never play louder, in dBFS of the peak: two equal ones then just fill full scale.
pub const HIGHEST_LEVEL_DBFS: f64 = -6.0;
/// Markers lie below the noise, so that a mixer that clips the noise still passes them whole.
const MARKER_DB: f64 = -6.0;
/// RMS of the Gaussian noise below its level: what lies beyond four times the RMS is clamped.
const GAUSSIAN_SHARE: f64 = 0.25;
const BURST_HZ: f64 = 5_000.0;

const SEED_A: u64 = 0x5EED_A000;
const SEED_B: u64 = 0x5EED_B000;
const SEED_GAUSSIAN: u64 = 0x5EED_C000;
const SEED_PINK: u64 = 0x5EED_D000;

/// One of the two feeds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Feed {
    /// Feed 1, on the mixer's first channel.
    One,
    /// Feed 2, on the second.
    Two,
}

impl Feed {
    /// Its place in arrays that have one entry a feed.
    #[must_use]
    pub fn index(self) -> usize {
        self as usize
    }

    /// The sample at `index` from the beginning of the test, at a level in dBFS of the peak. Levels
    /// above [`HIGHEST_LEVEL_DBFS`], or that are no number, play at that limit or not at all.
    #[must_use]
    pub fn sample(self, schedule: &Schedule, index: u64, level_dbfs: f64) -> f32 {
        (amplitude(level_dbfs) * self.value(schedule, index)) as f32
    }

    /// Fills `out` with the samples from `start` on.
    pub fn fill(self, schedule: &Schedule, start: u64, level_dbfs: f64, out: &mut [f32]) {
        let amplitude = amplitude(level_dbfs);
        for (index, out) in (start..).zip(out) {
            *out = (amplitude * self.value(schedule, index)) as f32;
        }
    }

    /// The whole feed.
    #[must_use]
    pub fn all(self, schedule: &Schedule, level_dbfs: f64) -> Vec<f32> {
        let mut samples = vec![0.0; schedule.length_frames() as usize];
        self.fill(schedule, 0, level_dbfs, &mut samples);
        samples
    }

    /// This feed's opening marker: up on feed 1, then down on feed 2.
    fn opening(self, schedule: &Schedule, frames: u64) -> f64 {
        match self {
            Self::One => marker::up(frames as f64 / schedule.rate_hz()),
            Self::Two => marker::down(since_lag_s(schedule, frames)),
        }
    }

    /// This feed's closing marker: down on feed 1, then up on feed 2.
    fn closing(self, schedule: &Schedule, frames: u64) -> f64 {
        match self {
            Self::One => marker::down(frames as f64 / schedule.rate_hz()),
            Self::Two => marker::up(since_lag_s(schedule, frames)),
        }
    }

    /// The sample for a level of 0 dBFS.
    fn value(self, schedule: &Schedule, index: u64) -> f64 {
        let rate_hz = schedule.rate_hz();
        let marker_gain = 10f64.powf(MARKER_DB / 20.0);
        match (schedule.moment(index), self) {
            (Moment::Opening(frames), _) => marker_gain * self.opening(schedule, frames),
            // Each feed closes with the mirror image of how it opened.
            (Moment::Closing(frames), _) => marker_gain * self.closing(schedule, frames),
            (Moment::Step(step, frames), _) => {
                let sound = match self {
                    Self::One => STEPS[step].feed_1,
                    Self::Two => STEPS[step].feed_2,
                };
                let fade = fade(schedule, frames);
                if fade == 0.0 { 0.0 } else { fade * sound.value(rate_hz, frames) }
            }
            _ => 0.0,
        }
    }
}

/// Time since feed 2's marker began, in seconds; negative before.
fn since_lag_s(schedule: &Schedule, frames: u64) -> f64 {
    (frames as f64 - schedule.feed_lag_frames() as f64) / schedule.rate_hz()
}

/// The peak for a level, within what a feed may play.
pub(super) fn amplitude(level_dbfs: f64) -> f64 {
    if level_dbfs.is_nan() {
        return 0.0;
    }
    10f64.powf(level_dbfs.min(HIGHEST_LEVEL_DBFS) / 20.0)
}

/// Raised cosine at either edge of a step.
pub(super) fn fade(schedule: &Schedule, frames: u64) -> f64 {
    let edge_frames = frames.min(schedule.step_frames() - 1 - frames) as f64;
    let share = edge_frames / (FADE_S * schedule.rate_hz());
    // Nearly every sample: not worth a cosine.
    if share >= 1.0 { 1.0 } else { 0.5 - 0.5 * (PI * share).cos() }
}

impl Sound {
    /// The value `frames` into a step, for a peak of 1.
    pub(super) fn value(self, rate_hz: f64, frames: u64) -> f64 {
        let sine = |hz: f64, frames: u64| (TAU * (frames as f64 * hz / rate_hz).fract()).sin();
        match self {
            Self::Silence => 0.0,
            Self::A => uniform(SEED_A, frames),
            Self::MinusA => -uniform(SEED_A, frames),
            // Before the step's beginning the counter wraps around, and is as random there.
            Self::LateA => uniform(SEED_A, frames.wrapping_sub((DELAY_S * rate_hz).round() as u64)),
            Self::B => uniform(SEED_B, frames),
            Self::MinusB => -uniform(SEED_B, frames),
            Self::HiddenTone => sine(hidden_tone_hz(rate_hz), frames),
            Self::Tone(hz) => sine(hz, frames),
            Self::Gaussian => (GAUSSIAN_SHARE * gaussian(SEED_GAUSSIAN, frames)).clamp(-1.0, 1.0),
            Self::Pink => pink(SEED_PINK, frames),
            Self::Bursts { length_s, first_s, every_s } => {
                let [first, every, length] =
                    [first_s, every_s, length_s].map(|s| (s * rate_hz).round() as u64);
                match frames.checked_sub(first).map(|since| since % every) {
                    Some(since) if since < length => sine(BURST_HZ, since),
                    _ => 0.0,
                }
            }
        }
    }
}
