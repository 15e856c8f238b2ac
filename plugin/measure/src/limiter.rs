//! Limiter drive: the gain reduction that an ideal limiter at the ceiling would apply.
//!
//! The limiter looks ahead, so that nothing passes its ceiling: its follower stands at a magnitude's
//! height when the magnitude comes, falls back exponentially (50 ms), and takes down by whatever it
//! stands above the ceiling: `20·log10(follower / ceiling)`. A steady tone is taken down by exactly
//! what its samples rise above the ceiling. All channels are linked, as on a bus.

use crate::level::Level;

const RELEASE_S: f64 = 0.050;

/// Follows one band against one ceiling.
#[derive(Debug, Clone, Copy)]
pub(crate) struct LimiterDrive {
    release: f32,
    ceiling: f32,
    follower: f32,
    highest: f32,
}

impl LimiterDrive {
    pub(crate) fn new(rate_hz: f64, ceiling_db: f64) -> Self {
        let ceiling = amplitude(ceiling_db);
        Self {
            release: (1.0 - (-1.0 / (RELEASE_S * rate_hz)).exp()) as f32,
            ceiling,
            follower: ceiling,
            highest: ceiling,
        }
    }

    /// Changes the ceiling; what was held against another ceiling is given up.
    pub(crate) fn set_ceiling(&mut self, ceiling_db: f64) {
        let ceiling = amplitude(ceiling_db);
        if ceiling != self.ceiling {
            self.ceiling = ceiling;
            self.reset();
        }
    }

    pub(crate) fn reset(&mut self) {
        self.follower = self.ceiling;
        self.highest = self.ceiling;
    }

    /// Comes to rest, as behind a stretch that is not measured.
    pub(crate) fn rest(&mut self) {
        self.follower = self.ceiling;
    }

    /// Lets go of the largest gain reduction so far; the limiter goes on working.
    pub(crate) fn let_go(&mut self) {
        self.highest = self.ceiling;
    }

    /// Goes on where `later` stands, which has the same ceiling and began where this ends.
    pub(crate) fn append(&mut self, later: Self) {
        *self = Self { highest: self.highest.max(later.highest), ..later };
    }

    /// Whether a stretch whose largest magnitude is `largest` can change anything.
    pub(crate) fn is_moved_by(&self, largest: f32) -> bool {
        largest > self.ceiling || self.follower > self.ceiling
    }

    /// Takes a stretch of magnitudes.
    pub(crate) fn take(&mut self, magnitudes: &[f32]) {
        let mut follower = self.follower;
        let mut highest = self.highest;
        for &magnitude in magnitudes {
            let drive = if magnitude > self.ceiling { magnitude } else { self.ceiling };
            let released = follower + self.release * (drive - follower);
            follower = if drive > released { drive } else { released };
            highest = if follower > highest { follower } else { highest };
        }
        // A thousandth of a decibel is rest: the exponential would never arrive.
        self.follower = if follower < self.ceiling * 1.0001 { self.ceiling } else { follower };
        self.highest = highest;
    }

    /// Largest gain reduction since reset, in positive decibels.
    pub(crate) fn highest_db(&self) -> Level {
        Level::from_amplitude(f64::from(self.highest) / f64::from(self.ceiling))
    }

    /// Gain reduction now, in positive decibels.
    pub(crate) fn now_db(&self) -> Level {
        Level::from_amplitude(f64::from(self.follower) / f64::from(self.ceiling))
    }
}

fn amplitude(db: f64) -> f32 {
    10f64.powf(db / 20.0) as f32
}
