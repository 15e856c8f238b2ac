//! The engine: its firing frequency, which nobody hears, its harmonics, which anybody does, and the
//! noise of each stroke.

use std::f64::consts::{FRAC_PI_2, TAU};

use super::{ENGINE_HZ, MOVE_FRAMES, MOVES_PER_S, Piece, RATE_HZ, crept};
use crate::signals::filter::{Biquad, Follower};
use crate::signals::{amplitude, noise};

/// Peak levels of the firing frequency and its harmonics, in dBFS.
const HARMONICS_DBFS: [f64; 10] =
    [-26.0, -34.0, -37.0, -40.0, -40.0, -44.0, -45.0, -48.0, -50.0, -53.0];
/// Peak level of the demo's firing frequency at the end, in dBFS before its gain.
const RUMBLE_DBFS: f64 = -21.6;
/// RMS level of the strokes' noise, in dBFS.
const STROKES_DBFS: f64 = -48.0;
/// Over which time the engine comes up as the ferry leaves, in seconds.
const DEPARTURE_S: f64 = 14.0;
const SEED: u64 = 0x454E;

/// Middle of the strokes' noise, in Hz, and its quality.
const STROKES_HZ: f64 = 140.0;
const STROKES_Q: f64 = 0.7;

#[derive(Debug, Clone)]
pub(super) struct Engine {
    piece: Piece,
    harmonics: [f64; 10],
    strokes: Biquad,
    strokes_gain: f64,
    load: Follower,
    gain: f64,
}

impl Engine {
    pub(super) fn new(piece: Piece) -> Self {
        // A single resonance takes π/2 of its width out of the white noise; a stroke's envelope
        // leaves about a quarter of its power.
        let band_hz = FRAC_PI_2 * STROKES_HZ / STROKES_Q;
        Self {
            piece,
            harmonics: HARMONICS_DBFS.map(amplitude),
            strokes: Biquad::band_pass(RATE_HZ, STROKES_HZ, STROKES_Q),
            strokes_gain: 2.0 * amplitude(STROKES_DBFS) * (RATE_HZ / 2.0 / band_hz).sqrt(),
            load: Follower::new(MOVES_PER_S, 1.5, 1.0),
            gain: 0.0,
        }
    }

    pub(super) fn next(&mut self, index: u64) -> [f64; 2] {
        let time_s = index as f64 / RATE_HZ;
        if index.is_multiple_of(MOVE_FRAMES) {
            // The sea changes the load a little, twice a second.
            let swell = 1.0 + 0.3 * noise::uniform(SEED, (2.0 * time_s) as u64);
            let departure = 0.5 + 0.5 * (time_s / DEPARTURE_S).min(1.0);
            self.gain = departure * self.load.next(swell);
            if self.piece == Piece::Demo {
                self.harmonics[0] = amplitude(RUMBLE_DBFS) * crept(time_s);
            }
        }
        let (sine, cosine) = (TAU * (time_s * ENGINE_HZ).fract()).sin_cos();
        let stroke = self.strokes_gain * (0.5 + 0.5 * cosine).powi(4);
        let noise = self.strokes.next(stroke * noise::bell(SEED + 1, index));
        self.tones(sine, cosine).map(|tones| self.gain * (tones + noise))
    }

    /// The tones at the two microphones: every fourth harmonic reaches them in opposite phases.
    fn tones(&self, sine: f64, cosine: f64) -> [f64; 2] {
        // sin(kφ) by the recurrence sin((k+1)φ) = 2·cos(φ)·sin(kφ) − sin((k−1)φ): one sine a frame.
        let (mut before, mut now) = (0.0, sine);
        let mut sides = [0.0; 2];
        for (n, level) in self.harmonics.iter().enumerate() {
            let opposite = if n % 4 == 3 { -1.0 } else { 1.0 };
            sides[0] += level * now;
            sides[1] += opposite * level * now;
            (before, now) = (now, 2.0 * cosine * now - before);
        }
        sides
    }
}
