//! Sines with an exact phase, sweeps, fades, bursts and DC.

use std::f64::consts::{PI, TAU};

use super::frames;

/// A steady sine.
#[derive(Debug, Clone, Copy)]
pub struct Sine {
    /// Frequency, in Hz.
    pub hz: f64,
    /// Linear peak amplitude.
    pub amplitude: f64,
    /// Phase of the first sample, in degrees; 0 is a rising zero crossing.
    pub phase_deg: f64,
}

impl Sine {
    /// A sine that starts at a rising zero crossing.
    #[must_use]
    pub fn new(hz: f64, amplitude: f64) -> Self {
        Self { hz, amplitude, phase_deg: 0.0 }
    }

    /// The same sine, starting at a phase in degrees.
    #[must_use]
    pub fn at_phase(self, phase_deg: f64) -> Self {
        Self { phase_deg, ..self }
    }

    /// The value at a sample index. The phase is reduced to one cycle before the sine is taken, so
    /// that it stays exact after hours.
    #[must_use]
    pub fn at(&self, rate_hz: f64, index: usize) -> f64 {
        let cycles = index as f64 * self.hz / rate_hz + self.phase_deg / 360.0;
        self.amplitude * (TAU * cycles.fract()).sin()
    }

    /// A stretch that begins and ends abruptly.
    #[must_use]
    pub fn play(&self, rate_hz: f64, length_s: f64) -> Vec<f32> {
        (0..frames(rate_hz, length_s)).map(|index| self.at(rate_hz, index) as f32).collect()
    }

    /// A stretch under an envelope: `shape(position)`, position from 0 to 1.
    #[must_use]
    pub fn shaped(&self, rate_hz: f64, length_s: f64, shape: impl Fn(f64) -> f64) -> Vec<f32> {
        let count = frames(rate_hz, length_s);
        (0..count)
            .map(|index| {
                let position = (index as f64 + 0.5) / count as f64;
                (shape(position) * self.at(rate_hz, index)) as f32
            })
            .collect()
    }

    /// A stretch with raised-cosine fades, so that its only peaks are those of the steady sine.
    #[must_use]
    pub fn faded(&self, rate_hz: f64, length_s: f64, fade_s: f64) -> Vec<f32> {
        self.shaped(rate_hz, length_s, |position| fade(position * length_s, length_s, fade_s))
    }
}

/// Gain of raised-cosine fades at both ends of a stretch.
#[must_use]
pub fn fade(time_s: f64, length_s: f64, fade_s: f64) -> f64 {
    let from_end = time_s.min(length_s - time_s) / fade_s;
    if from_end < 1.0 { 0.5 - 0.5 * (PI * from_end.max(0.0)).cos() } else { 1.0 }
}

/// An envelope that rises and falls over the whole stretch so smoothly that a tone under it stays
/// within a few of its own bins: for measuring what a filter leaves of that tone.
#[must_use]
pub fn smooth(position: f64) -> f64 {
    (PI * position).sin().powi(4)
}

/// An exponential sweep from `from_hz` to `to_hz` with short fades.
#[must_use]
pub fn sweep(rate_hz: f64, from_hz: f64, to_hz: f64, amplitude: f64, length_s: f64) -> Vec<f32> {
    const FADE_S: f64 = 0.02;
    let span = (to_hz / from_hz).ln();
    (0..frames(rate_hz, length_s))
        .map(|index| {
            let time_s = index as f64 / rate_hz;
            let cycles = from_hz * length_s / span * ((span * time_s / length_s).exp() - 1.0);
            let gain = amplitude * fade(time_s, length_s, FADE_S);
            (gain * (TAU * cycles.fract()).sin()) as f32
        })
        .collect()
}

/// A stretch of one value.
#[must_use]
pub fn dc(rate_hz: f64, value: f64, length_s: f64) -> Vec<f32> {
    vec![value as f32; frames(rate_hz, length_s)]
}

/// A stretch of silence.
#[must_use]
pub fn silence(rate_hz: f64, length_s: f64) -> Vec<f32> {
    dc(rate_hz, 0.0, length_s)
}

/// The same signal `delay_frames` later, its end cut off so that the length stays.
#[must_use]
pub fn delayed(signal: &[f32], delay_frames: usize) -> Vec<f32> {
    let silent = delay_frames.min(signal.len());
    let mut later = vec![0.0; silent];
    later.extend_from_slice(&signal[..signal.len() - silent]);
    later
}

/// The same signal times a linear gain.
#[must_use]
pub fn scaled(signal: &[f32], gain: f64) -> Vec<f32> {
    signal.iter().map(|x| (f64::from(*x) * gain) as f32).collect()
}

/// Two signals added, as long as the shorter one.
#[must_use]
pub fn added(a: &[f32], b: &[f32]) -> Vec<f32> {
    a.iter().zip(b).map(|(a, b)| a + b).collect()
}
