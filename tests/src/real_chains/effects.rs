//! Effects of our own, each the shortest exact way.

use std::f64::consts::{PI, TAU};

use crate::memory::Memory;
use crate::signals::noise::hash;

/// A linear factor from decibels.
pub fn factor(db: f64) -> f64 {
    10f64.powf(db / 20.0)
}

/// A moment as a frame.
pub fn frame(sound: &Memory, at_s: f64) -> usize {
    (at_s * f64::from(sound.rate_hz)) as usize
}

/// Every sample multiplied by a gain that depends on the time in seconds.
pub fn ridden(sound: &Memory, gain: impl Fn(f64) -> f64) -> Memory {
    let rate = f64::from(sound.rate_hz);
    sound.each(|channel| {
        channel.iter().enumerate().map(|(n, x)| x * gain(n as f64 / rate)).collect()
    })
}

/// A first-order all-pass: −90° at its frequency, by the bilinear transform.
pub fn all_passed(sound: &Memory, hz: f64) -> Memory {
    let t = (PI * hz / f64::from(sound.rate_hz)).tan();
    let c = (t - 1.0) / (t + 1.0);
    sound.each(|channel| {
        let (mut before_in, mut before_out) = (0.0, 0.0);
        channel
            .iter()
            .map(|&x| {
                let y = c * x + before_in - c * before_out;
                (before_in, before_out) = (x, y);
                y
            })
            .collect()
    })
}

/// A bell of the bilinear kind: a gain in dB at a frequency, `q` its quality at half that gain in dB.
pub fn belled(sound: &Memory, hz: f64, q: f64, gain_db: f64) -> Memory {
    let a = 10f64.powf(gain_db / 40.0);
    let w = TAU * hz / f64::from(sound.rate_hz);
    let alpha = w.sin() / (2.0 * q);
    let scale = 1.0 / (1.0 + alpha / a);
    let b = [1.0 + alpha * a, -2.0 * w.cos(), 1.0 - alpha * a].map(|b| b * scale);
    let a = [-2.0 * w.cos() * scale, (1.0 - alpha / a) * scale];
    sound.each(|channel| {
        let mut state = [0.0; 2];
        channel
            .iter()
            .map(|&x| {
                let y = b[0] * x + state[0];
                state[0] = b[1] * x - a[0] * y + state[1];
                state[1] = b[2] * x - a[1] * y;
                y
            })
            .collect()
    })
}

/// Both sums of two channels: middle and side, each multiplied.
pub fn widened(sound: &Memory, middle: f64, side: f64) -> Memory {
    let [left, right] = [&sound.channels[0], &sound.channels[1]];
    let mixed = |sign: f64| {
        let pairs = left.iter().zip(right);
        pairs.map(|(l, r)| 0.5 * (middle * (l + r) + sign * side * (l - r))).collect()
    };
    sound.with(vec![mixed(1.0), mixed(-1.0)])
}

/// Something else added from a frame on, each of its channels to one of the sound's; one channel to
/// all.
pub fn added(sound: &Memory, other: &Memory, at: usize, gain: f64) -> Memory {
    let mut channels = sound.channels.clone();
    for (index, channel) in channels.iter_mut().enumerate() {
        let other = &other.channels[index % other.channels.len()];
        for (sum, x) in channel[at..].iter_mut().zip(other) {
            *sum += gain * x;
        }
    }
    sound.with(channels)
}

/// The sound late by whole samples in one channel, whose end is lost.
pub fn late_in(sound: &Memory, channel: usize, samples: usize) -> Memory {
    let mut channels = sound.channels.clone();
    let frames = sound.frames();
    channels[channel] = [&vec![0.0; samples], &channels[channel][..frames - samples]].concat();
    sound.with(channels)
}

/// Frames spread over a sound, where something plays for so many frames: what is done to them can be
/// seen.
pub fn moments(sound: &Memory, count: usize, length: usize) -> Vec<usize> {
    const AUDIBLE: f64 = 0.01;
    let room = sound.frames() / (count + 1);
    (1..=count)
        .filter_map(|index| {
            let start = index * room + hash(5, index as u64) as usize % (room / 2);
            (start..start + room / 2 - length).step_by(length).find(|&at| {
                sound.channels.iter().all(|channel| {
                    let energy: f64 = channel[at..at + length].iter().map(|x| x * x).sum();
                    energy > AUDIBLE * AUDIBLE * length as f64
                })
            })
        })
        .collect()
}
