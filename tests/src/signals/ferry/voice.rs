//! The narrator: glottal pulses through five formants, in syllables, phrases and pauses. No words,
//! but the level, the rhythm and the spectrum of somebody who speaks calmly and close.

mod plan;

use super::{MOVE_FRAMES, MOVES_PER_S, RATE_HZ};
use crate::signals::filter::{Biquad, Follower, Resonance};
use crate::signals::{amplitude, noise};
use plan::Plan;

/// Sets the narrator's level.
const LEVEL_DB: f64 = -19.9;
/// The upper formants, which hardly move: frequency and bandwidth, in Hz.
const UPPER_FORMANTS_HZ: [(f64, f64); 2] = [(3400.0, 180.0), (4300.0, 250.0)];
/// Bandwidths of the lower formants, in Hz.
const LOWER_BANDWIDTHS_HZ: [f64; 3] = [70.0, 95.0, 140.0];
const SEED: u64 = 0x564F;

#[derive(Debug, Clone)]
pub(super) struct Voice {
    level: f64,
    plan: Plan,
    formants: [Resonance; 5],
    moving: [Follower; 3],
    loudness: Follower,
    breath: Follower,
    pitch: Follower,
    now: Targets,
    cycle: f64,
    cycle_number: u64,
    hiss: Biquad,
}

/// Where the slow controls stand between two moves.
#[derive(Debug, Clone, Copy, Default)]
struct Targets {
    pitch_hz: f64,
    loudness: f64,
    breath: f64,
}

impl Voice {
    pub(super) fn new() -> Self {
        Self {
            level: amplitude(LEVEL_DB),
            plan: Plan::new(SEED),
            formants: [Resonance::default(); 5],
            moving: plan::NEUTRAL_HZ.map(|hz| Follower::new(MOVES_PER_S, 0.035, hz)),
            loudness: Follower::new(MOVES_PER_S, 0.022, 0.0),
            breath: Follower::new(MOVES_PER_S, 0.008, 0.0),
            pitch: Follower::new(MOVES_PER_S, 0.06, 110.0),
            now: Targets::default(),
            cycle: 0.0,
            cycle_number: 0,
            hiss: Biquad::band_pass(RATE_HZ, 5200.0, 1.1),
        }
    }

    /// The narrator stands in the middle.
    pub(super) fn next(&mut self, index: u64) -> [f64; 2] {
        if index.is_multiple_of(MOVE_FRAMES) {
            self.move_to(index as f64 / RATE_HZ);
        }
        let noise = noise::bell(SEED, index);
        let pulse = self.pulse() + 0.02 * noise;
        let throat = pulse * self.now.loudness;
        let voiced = self.formants.iter_mut().fold(throat, |x, formant| formant.next(x));
        let consonant = self.hiss.next(noise * self.now.breath);
        [self.level * (voiced + consonant); 2]
    }

    /// Moves formants, pitch and loudness towards what the plan wants at this moment.
    fn move_to(&mut self, time_s: f64) {
        let wanted = self.plan.at(time_s);
        for (n, formant) in self.formants.iter_mut().enumerate() {
            let (hz, bandwidth_hz) = match n {
                0..=2 => (self.moving[n].next(wanted.formants_hz[n]), LOWER_BANDWIDTHS_HZ[n]),
                _ => UPPER_FORMANTS_HZ[n - 3],
            };
            formant.tune(RATE_HZ, hz, bandwidth_hz);
        }
        self.now = Targets {
            pitch_hz: self.pitch.next(wanted.pitch_hz),
            loudness: self.loudness.next(wanted.loudness),
            breath: self.breath.next(wanted.breath),
        };
    }

    /// The derivative of the air flow through the glottis: opens slowly, closes fast, rests closed.
    fn pulse(&mut self) -> f64 {
        const OPENING: f64 = 0.44;
        const CLOSING: f64 = 0.11;
        // No two cycles of a throat are alike.
        let wander = 1.0 + 0.012 * noise::uniform(SEED + 1, self.cycle_number);
        self.cycle += self.now.pitch_hz * wander / RATE_HZ;
        if self.cycle >= 1.0 {
            self.cycle -= 1.0;
            self.cycle_number += 1;
        }
        let pi = std::f64::consts::PI;
        if self.cycle < OPENING {
            (pi * self.cycle / OPENING).sin() * CLOSING / OPENING
        } else if self.cycle < OPENING + CLOSING {
            -(0.5 * pi * (self.cycle - OPENING) / CLOSING).sin()
        } else {
            0.0
        }
    }
}
