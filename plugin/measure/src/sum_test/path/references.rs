//! The feeds' noises as spectra, worked out once a rate.

use std::collections::HashMap;
use std::f64::consts::TAU;
use std::ops::Range;
use std::sync::{Arc, LazyLock, Mutex};

use realfft::num_complex::Complex32;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};

use crate::sum_test::schedule::{Schedule, Sound};

/// Where the window begins in a step, and how much of it may be used, in seconds.
const USED_S: (f64, f64) = (0.1, 3.3);

/// Spectra of the feeds' noises over the window that every step is looked at through.
pub(in crate::sum_test) struct References {
    pub rate_hz: f64,
    /// Frames in the window.
    pub size: usize,
    /// Where it begins in a step, in frames.
    pub offset_frames: u64,
    pub window: Vec<f32>,
    pub a: Vec<Complex32>,
    late_a: Vec<Complex32>,
    b: Vec<Complex32>,
    /// A, late A and B without the window.
    plain: [Vec<Complex32>; 3],
    forward: Arc<dyn RealToComplex<f32>>,
    inverse: Arc<dyn ComplexToReal<f32>>,
}

impl References {
    fn new(schedule: &Schedule) -> Self {
        let rate_hz = schedule.rate_hz();
        // The longest power of two that fits.
        let most = (USED_S.1 * rate_hz) as usize;
        let size = (most + 1).next_power_of_two() / 2;
        let offset_frames = (USED_S.0 * rate_hz) as u64;
        let window =
            (0..size).map(|n| (0.5 - 0.5 * (TAU * n as f64 / size as f64).cos()) as f32).collect();
        let mut planner = RealFftPlanner::new();
        let mut references = Self {
            rate_hz,
            size,
            offset_frames,
            window,
            a: Vec::new(),
            late_a: Vec::new(),
            b: Vec::new(),
            plain: Default::default(),
            forward: planner.plan_fft_forward(size),
            inverse: planner.plan_fft_inverse(size),
        };
        let noise = |sound: Sound| -> Vec<f32> {
            (offset_frames..offset_frames + size as u64)
                .map(|frames| sound.value(rate_hz, frames) as f32)
                .collect()
        };
        references.a = references.spectrum(&noise(Sound::A));
        references.late_a = references.spectrum(&noise(Sound::LateA));
        references.b = references.spectrum(&noise(Sound::B));
        references.plain = [Sound::A, Sound::LateA, Sound::B]
            .map(|sound| references.plain_spectrum(&mut noise(sound)));
        references
    }

    fn plain_spectrum(&self, time: &mut [f32]) -> Vec<Complex32> {
        let mut spectrum = self.forward.make_output_vec();
        // Lengths come from the plan, so the transform cannot refuse them.
        let _ = self.forward.process(time, &mut spectrum);
        spectrum
    }

    /// The windowed spectrum of `size` samples.
    pub fn spectrum(&self, samples: &[f32]) -> Vec<Complex32> {
        let mut time: Vec<f32> = samples.iter().zip(&self.window).map(|(x, w)| x * w).collect();
        self.plain_spectrum(&mut time)
    }

    /// The waveform of a spectrum.
    pub fn waveform(&self, spectrum: &[Complex32]) -> Vec<f32> {
        let scale = 1.0 / self.size as f32;
        let mut spectrum: Vec<Complex32> = spectrum.iter().map(|bin| bin * scale).collect();
        let last = spectrum.len() - 1;
        spectrum[0].im = 0.0;
        spectrum[last].im = 0.0;
        let mut time = self.inverse.make_output_vec();
        let _ = self.inverse.process(&mut spectrum, &mut time);
        time
    }

    /// The spectrum and sign of what a feed plays; `None` if it is none of the white noises.
    pub fn of(&self, sound: Sound) -> Option<(&[Complex32], f64)> {
        match sound {
            Sound::A => Some((&self.a, 1.0)),
            Sound::MinusA => Some((&self.a, -1.0)),
            Sound::LateA => Some((&self.late_a, 1.0)),
            Sound::B => Some((&self.b, 1.0)),
            Sound::MinusB => Some((&self.b, -1.0)),
            _ => None,
        }
    }

    /// The same without the window.
    pub fn plain(&self, sound: Sound) -> Option<(&[Complex32], f64)> {
        let [a, late_a, b] = &self.plain;
        match sound {
            Sound::A => Some((a, 1.0)),
            Sound::MinusA => Some((a, -1.0)),
            Sound::LateA => Some((late_a, 1.0)),
            Sound::B => Some((b, 1.0)),
            Sound::MinusB => Some((b, -1.0)),
            _ => None,
        }
    }

    /// The bins of a range in Hz.
    pub fn bins(&self, (low_hz, high_hz): (f64, f64)) -> Range<usize> {
        let bin = |hz: f64| (hz * self.size as f64 / self.rate_hz).round() as usize;
        bin(low_hz)..bin(high_hz)
    }
}

/// What is left of a correlation when one of two sounds is late by a share of the Hann window that
/// both are looked at through: the window's own correlation.
pub(super) fn overlap(share: f64) -> f64 {
    let share = share.min(0.5);
    let turn = TAU * share;
    (1.0 - share) * (2.0 + turn.cos()) / 3.0 + turn.sin() / TAU
}

/// The references at a rate, worked out once and kept.
pub(in crate::sum_test) fn references(schedule: &Schedule) -> Arc<References> {
    static KNOWN: LazyLock<Mutex<HashMap<u64, Arc<References>>>> = LazyLock::new(Mutex::default);
    let key = schedule.rate_hz() as u64;
    // A panic elsewhere cannot leave a half-made entry, so a poisoned lock is still good.
    let mut known = KNOWN.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    Arc::clone(known.entry(key).or_insert_with(|| Arc::new(References::new(schedule))))
}
