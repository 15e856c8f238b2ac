//! A piece of music made by code: bass, chords, plucked melody, drums and room, in quiet and loud
//! parts, never twice the same. Our own invention; for comparisons of files, which need what real
//! programmes have: attacks, silences, width, and content up to the end of the band.

use std::f64::consts::TAU;

use super::noise::{bell, hash, uniform};
use crate::memory::Memory;

/// Length of a step of the piece, in seconds.
const STEP_S: f64 = 0.21;
/// Notes of the scale, in half tones.
const SCALE: [i32; 7] = [0, 2, 3, 5, 7, 8, 10];

/// The piece: stereo, `length_s` seconds at `rate_hz`, another one for every `seed`.
#[must_use]
pub fn play(seed: u64, rate_hz: u32, length_s: f64) -> Memory {
    let rate = f64::from(rate_hz);
    let frames = super::frames(rate, length_s);
    let mut stage = Stage { rate, channels: vec![vec![0.0; frames]; 2] };
    for step in 0..(length_s / STEP_S) as u64 {
        play_step(&mut stage, seed, step);
    }
    let mut channels = stage.channels;
    room(&mut channels, rate);
    // A quiet floor, as a recording has.
    for (side, channel) in (0u64..).zip(&mut channels) {
        for (n, sample) in (0u64..).zip(channel.iter_mut()) {
            *sample += 2e-5 * bell(seed + 77 + side, n);
        }
    }
    let peak = channels.iter().flatten().fold(0f64, |held, x| held.max(x.abs()));
    channels.iter_mut().flatten().for_each(|x| *x *= 0.8 / peak);
    Memory::new(rate_hz, channels)
}

struct Stage {
    rate: f64,
    channels: Vec<Vec<f64>>,
}

impl Stage {
    /// Adds a sound: `sound(t)` from `start_s` on, for `length_s`, panned (−1 left, 1 right).
    fn add(
        &mut self,
        start_s: f64,
        length_s: f64,
        pan: f64,
        mut sound: impl FnMut(u64, f64) -> f64,
    ) {
        let first = (start_s * self.rate) as usize;
        let count = (length_s * self.rate) as usize;
        let angle = (pan + 1.0) * TAU / 8.0;
        let gains = [angle.cos(), angle.sin()];
        for n in 0..count {
            let index = first + n;
            if index >= self.channels[0].len() {
                return;
            }
            let value = sound(n as u64, n as f64 / self.rate);
            for (channel, gain) in self.channels.iter_mut().zip(gains) {
                channel[index] += gain * value;
            }
        }
    }
}

fn play_step(stage: &mut Stage, seed: u64, step: u64) {
    let dice = |what: u64| uniform(seed * 1_000 + what, step);
    // Off the grid by a little, as players are.
    let start_s = step as f64 * STEP_S + 0.012 * (1.0 + dice(1));
    // Parts of some six seconds, quiet ones and loud ones.
    let part = step / 29;
    let loud = 0.25 + 0.75 * (0.5 + 0.5 * uniform(seed * 1_000 + 2, part)).powi(2);
    if step.is_multiple_of(16) {
        kick_and_bass(stage, seed, step, start_s, loud);
    }
    if step.is_multiple_of(8) {
        chord(stage, seed, step, start_s, 0.12 * loud);
    }
    if dice(3) > 0.1 {
        let pitch = note(seed, step, 62);
        pluck(stage, pitch, start_s, 0.35 * loud * (0.6 + 0.4 * dice(4)), 0.7 * dice(5));
    }
    if step % 4 == 2 && dice(6) > -0.7 {
        snare(stage, seed, step, start_s, 0.5 * loud);
    }
    if dice(7) > -0.3 {
        hat(stage, seed, step, start_s, 0.12 * loud);
    }
    if step % 8 == 5 {
        kick(stage, start_s, 0.8 * loud);
    }
}

/// A pitch in Hz from the scale around a key.
fn note(seed: u64, step: u64, key: i32) -> f64 {
    let draw = hash(seed + 9, step);
    let degree = SCALE[(draw % 7) as usize] + 12 * ((draw >> 8) % 2) as i32;
    440.0 * 2f64.powf(f64::from(key + degree - 69) / 12.0)
}

fn kick_and_bass(stage: &mut Stage, seed: u64, step: u64, start_s: f64, loud: f64) {
    kick(stage, start_s, 0.9 * loud);
    let hz = note(seed + 1, step, 33);
    stage.add(start_s, 3.0, -0.1, |_, t| {
        let fade = (-t / 1.1).exp() * (t / 0.01).min(1.0);
        0.4 * loud * fade * ((TAU * hz * t).sin() + 0.4 * (2.0 * TAU * hz * t).sin())
    });
}

fn kick(stage: &mut Stage, start_s: f64, gain: f64) {
    stage.add(start_s, 0.3, 0.0, |_, t| {
        let phase = TAU * (48.0 * t + 3.0 * (1.0 - (-t / 0.03).exp()));
        gain * phase.sin() * (-t / 0.08).exp() * (t / 0.001).min(1.0)
    });
}

fn chord(stage: &mut Stage, seed: u64, step: u64, start_s: f64, gain: f64) {
    for voice in 0..3 {
        let hz = note(seed + 20 + voice, step, 50);
        let pan = voice as f64 - 1.0;
        stage.add(start_s, 1.9, 0.8 * pan, |_, t| {
            let fade = (t / 0.3).min(1.0) * ((1.9 - t) / 0.4).clamp(0.0, 1.0);
            let moving = 1.0 + 0.004 * (TAU * 0.7 * t + voice as f64).sin();
            let tone: f64 = (1..9)
                .map(|k| (TAU * hz * f64::from(k) * moving * t).sin() / f64::from(k * k).sqrt())
                .sum();
            gain * fade * tone
        });
    }
}

fn pluck(stage: &mut Stage, hz: f64, start_s: f64, gain: f64, pan: f64) {
    stage.add(start_s, 0.8, pan, |_, t| {
        let tone: f64 = (1..14)
            .map(|k| {
                let k = f64::from(k);
                (TAU * hz * k * t + k * k).sin() * (-t * k / 0.5).exp() / k
            })
            .sum();
        gain * tone * (t / 0.002).min(1.0) * ((0.8 - t) / 0.1).clamp(0.0, 1.0)
    });
}

fn snare(stage: &mut Stage, seed: u64, step: u64, start_s: f64, gain: f64) {
    stage.add(start_s, 0.25, 0.15, |n, t| {
        let noise = bell(seed + 40 + step, n);
        let tone = (TAU * 190.0 * t).sin() * (-t / 0.05).exp();
        gain * (0.4 * noise * (-t / 0.06).exp() + tone)
    });
}

fn hat(stage: &mut Stage, seed: u64, step: u64, start_s: f64, gain: f64) {
    let mut last = 0.0;
    stage.add(start_s, 0.12, -0.4, |n, t| {
        let noise = bell(seed + 90 + step, n);
        let bright = noise - last;
        last = noise;
        gain * bright * (-t / 0.03).exp()
    });
}

/// A few dozen echoes, other ones left and right.
fn room(channels: &mut [Vec<f64>], rate: f64) {
    for (side, channel) in (0u64..).zip(channels.iter_mut()) {
        let dry = channel.clone();
        for echo in 0..24u64 {
            let delay_s = 0.011 + 0.009 * echo as f64 + 0.006 * uniform(500 + side, echo);
            let gain = 0.16 * (-0.13 * echo as f64).exp() * uniform(600 + side, echo).signum();
            let delay = (delay_s * rate) as usize;
            for n in delay..channel.len() {
                channel[n] += gain * dry[n - delay];
            }
        }
    }
}
