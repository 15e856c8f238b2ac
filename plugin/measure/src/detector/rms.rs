//! RMS over 300 ms, taken every 10 ms. A full-scale sine reads −3.01 dBFS.

use super::{sample, settling_frames};
use crate::level::Level;
use crate::sliding::SlidingSum;

/// Hops a second: each window is a whole number of them.
const HOPS_A_SECOND: f64 = 100.0;
/// Hops in a window: 300 ms.
const WINDOW_HOPS: usize = 30;

/// RMS of one signal over a sliding window of 300 ms.
pub struct Rms {
    power: SlidingPower,
}

impl Rms {
    /// A detector for a signal at `rate_hz`.
    #[must_use]
    pub fn new(rate_hz: f64) -> Self {
        Self { power: SlidingPower::new(rate_hz, WINDOW_HOPS) }
    }

    /// Forgets what came before.
    pub fn reset(&mut self) {
        self.power.reset();
    }

    /// Takes the next samples.
    pub fn take(&mut self, samples: &[f32]) {
        for &value in samples {
            self.power.push(sample(value));
        }
    }

    /// The highest RMS shown, in dBFS; none before a window has filled.
    #[must_use]
    pub fn highest(&self) -> Level {
        self.power.highest()
    }

    /// The mean power shown after settling, in dBFS.
    #[must_use]
    pub fn settled(&self) -> Level {
        self.power.settled()
    }
}

/// Mean square over a sliding window of whole hops of 10 ms, with what a reader makes of it.
pub(super) struct SlidingPower {
    window: SlidingSum<1>,
    window_frames: f64,
    hop_frames: u64,
    settling_frames: u64,
    /// Since reset.
    frames: u64,
    hop_energy: f64,
    hop_filled: u64,
    highest: Option<f64>,
    settled_sum: f64,
    settled_count: u64,
}

impl SlidingPower {
    pub(super) fn new(rate_hz: f64, hops: usize) -> Self {
        let hop_frames = (rate_hz / HOPS_A_SECOND).round() as u64;
        Self {
            window: SlidingSum::new(hops),
            window_frames: hop_frames as f64 * hops as f64,
            hop_frames,
            settling_frames: settling_frames(rate_hz),
            frames: 0,
            hop_energy: 0.0,
            hop_filled: 0,
            highest: None,
            settled_sum: 0.0,
            settled_count: 0,
        }
    }

    pub(super) fn reset(&mut self) {
        self.window.reset();
        self.frames = 0;
        self.hop_energy = 0.0;
        self.hop_filled = 0;
        self.highest = None;
        self.settled_sum = 0.0;
        self.settled_count = 0;
    }

    #[inline(always)]
    pub(super) fn push(&mut self, sample: f64) {
        self.hop_energy += sample * sample;
        self.hop_filled += 1;
        self.frames += 1;
        if self.hop_filled == self.hop_frames {
            self.finish_hop();
        }
    }

    fn finish_hop(&mut self) {
        self.window.push([self.hop_energy]);
        self.hop_energy = 0.0;
        self.hop_filled = 0;
        if let Some([energy]) = self.window.sum() {
            let power = energy / self.window_frames;
            self.highest = Some(self.highest.map_or(power, |held| held.max(power)));
            if self.frames > self.settling_frames {
                self.settled_sum += power;
                self.settled_count += 1;
            }
        }
    }

    pub(super) fn highest(&self) -> Level {
        self.highest.map_or(Level::NONE, Level::from_power)
    }

    pub(super) fn settled(&self) -> Level {
        if self.settled_count == 0 {
            return Level::NONE;
        }
        Level::from_power(self.settled_sum / self.settled_count as f64)
    }
}
