//! Somebody switches two sources of one bus: one alone, the same on both, independent ones, a late copy,
//! one inverted.

use super::{Stereo, amplitude, frames, noise};

/// What the sources are made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Uniform white noise: bounded, flat-topped.
    Uniform,
    /// Gaussian white noise.
    Gaussian,
    /// Noise that falls by 3 dB an octave.
    Pink,
}

impl Kind {
    /// Every kind.
    pub const ALL: [Self; 3] = [Self::Uniform, Self::Gaussian, Self::Pink];

    /// A stretch of it, whose RMS lies 4.77 dB below `peak_dbfs`, as that of uniform noise with that
    /// peak does.
    #[must_use]
    pub fn noise(self, seed: u64, peak_dbfs: f64, rate_hz: f64, frames: usize) -> Vec<f32> {
        let peak = amplitude(peak_dbfs);
        let rms = peak / 3f64.sqrt();
        match self {
            Self::Uniform => noise::white(seed, peak, frames),
            Self::Gaussian => noise::white_gaussian(seed, rms, frames),
            Self::Pink => noise::pink(seed, rms, rate_hz, frames),
        }
    }
}

/// What the two sources play.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Sources {
    /// Nothing.
    Silent,
    /// The first alone, by so many dB louder.
    Alone(f64),
    /// The first on both.
    Same,
    /// Two independent ones.
    Independent,
    /// The first, and a copy of it so many seconds later, by so many dB louder.
    Copy(f64, f64),
    /// The first, and the same inverted.
    Inverted,
}

/// Where the two sources go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Panning {
    /// Both into the middle of a stereo bus.
    Middle,
    /// Hard left and right, or into main and side-chain.
    Apart,
}

/// Sources that are switched every so many seconds.
#[derive(Debug, Clone)]
pub struct Switching<'a> {
    /// What they are made of.
    pub kind: Kind,
    /// Peak of one source, of noise that has one, in dBFS.
    pub peak_dbfs: f64,
    /// Sample rate, in Hz.
    pub rate_hz: f64,
    /// Length of each state, in seconds.
    pub each_s: f64,
    /// The states, one after the other.
    pub states: &'a [Sources],
}

impl Switching<'_> {
    /// Plays it.
    #[must_use]
    pub fn play(&self, panning: Panning) -> Stereo {
        let each = frames(self.rate_hz, self.each_s);
        let length = each * self.states.len();
        let [first, second] =
            [1, 2].map(|seed| self.kind.noise(seed, self.peak_dbfs, self.rate_hz, length));
        let [mut left, mut right] = [vec![0.0; length], vec![0.0; length]];
        for (index, state) in self.states.iter().enumerate() {
            for frame in index * each..(index + 1) * each {
                let (a, b) = self.at(*state, frame, &first, &second);
                (left[frame], right[frame]) = match panning {
                    Panning::Apart => (a, b),
                    Panning::Middle => (a + b, a + b),
                };
            }
        }
        Stereo::new(self.rate_hz, left, right)
    }

    fn at(&self, state: Sources, frame: usize, first: &[f32], second: &[f32]) -> (f32, f32) {
        let sound = first[frame];
        match state {
            Sources::Silent => (0.0, 0.0),
            Sources::Alone(db) => (sound * amplitude(db) as f32, 0.0),
            Sources::Same => (sound, sound),
            Sources::Independent => (sound, second[frame]),
            Sources::Copy(late_s, db) => {
                let late = frame.checked_sub(frames(self.rate_hz, late_s));
                (sound, late.map_or(0.0, |frame| first[frame] * amplitude(db) as f32))
            }
            Sources::Inverted => (sound, -sound),
        }
    }
}
