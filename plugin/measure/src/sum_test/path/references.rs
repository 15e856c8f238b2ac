//! The feeds' noises as spectra over a whole step, worked out once a rate and pace.

use std::collections::HashMap;
use std::f64::consts::PI;
use std::ops::Range;
use std::sync::{Arc, LazyLock, Mutex};

use realfft::num_complex::Complex32;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};

use crate::sum_test::feed::fade;
use crate::sum_test::schedule::{Schedule, Sound};

/// How much of the silence before a step its window holds, in seconds: what a filter of linear phase
/// sends ahead.
const LEAD_S: f64 = 0.1;
/// How much of the window's either end is faded, in seconds, so that hum does not leak.
const EDGE_S: f64 = 0.05;
/// The part of a window that is silent but for what rings on, in seconds before its end.
const SILENT_S: (f64, f64) = (0.35, 0.1);

/// Spectra of the feeds' noises, over the window that every step is looked at through: from the
/// silence before a step to that of the next, so that it holds the step with all that rings on.
pub(in crate::sum_test) struct References {
    pub rate_hz: f64,
    /// Frames of a step's sound.
    pub step_frames: usize,
    /// Frames in the window.
    pub size: usize,
    /// How many of them lie before the step.
    pub lead_frames: u64,
    edge_frames: usize,
    pub a: Vec<Complex32>,
    late_a: Vec<Complex32>,
    b: Vec<Complex32>,
    forward: Arc<dyn RealToComplex<f32>>,
    inverse: Arc<dyn ComplexToReal<f32>>,
}

impl References {
    fn new(schedule: &Schedule) -> Self {
        let rate_hz = schedule.rate_hz();
        // An even size, whose last bin is half the rate.
        let size = schedule.slot_frames() as usize & !1;
        let mut planner = RealFftPlanner::new();
        let mut references = Self {
            rate_hz,
            step_frames: schedule.step_frames() as usize,
            size,
            lead_frames: (LEAD_S * rate_hz) as u64,
            edge_frames: (EDGE_S * rate_hz) as usize,
            a: Vec::new(),
            late_a: Vec::new(),
            b: Vec::new(),
            forward: planner.plan_fft_forward(size),
            inverse: planner.plan_fft_inverse(size),
        };
        let noise = |sound: Sound| -> Vec<Complex32> {
            let mut time = vec![0.0; size];
            let played = &mut time[references.lead_frames as usize..];
            for (frames, value) in (0..schedule.step_frames()).zip(played) {
                *value = (fade(schedule, frames) * sound.value(rate_hz, frames)) as f32;
            }
            references.plain_spectrum(&mut time)
        };
        let [a, late_a, b] = [Sound::A, Sound::LateA, Sound::B].map(noise);
        (references.a, references.late_a, references.b) = (a, late_a, b);
        references
    }

    /// Where the window of a step begins that itself begins at `step_start_frames`.
    pub fn first_frame(&self, step_start_frames: u64) -> u64 {
        step_start_frames - self.lead_frames
    }

    /// The spectrum of `size` samples, which it may use up.
    pub fn plain_spectrum(&self, time: &mut [f32]) -> Vec<Complex32> {
        let mut spectrum = self.forward.make_output_vec();
        // Lengths come from the plan, so the transform cannot refuse them.
        let _ = self.forward.process(time, &mut spectrum);
        spectrum
    }

    /// The spectrum of a window of the recording.
    pub fn spectrum(&self, samples: &[f32]) -> Vec<Complex32> {
        let mut time = samples.to_vec();
        let last = time.len() - 1;
        for n in 0..self.edge_frames {
            let turn = PI * (n as f64 + 0.5) / self.edge_frames as f64;
            let edge = (0.5 - 0.5 * turn.cos()) as f32;
            time[n] *= edge;
            time[last - n] *= edge;
        }
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

    /// The bins of a range in Hz.
    pub fn bins(&self, (low_hz, high_hz): (f64, f64)) -> Range<usize> {
        let bin = |hz: f64| (hz * self.size as f64 / self.rate_hz).round() as usize;
        bin(low_hz)..bin(high_hz)
    }

    /// How many bins lie in so many Hz; at least one.
    pub fn bins_in(&self, hz: f64) -> usize {
        ((hz * self.size as f64 / self.rate_hz).round() as usize).max(1)
    }

    /// The samples of a window in which the step has ended.
    pub fn silent(&self) -> Range<usize> {
        let before_end = |s: f64| self.size - (s * self.rate_hz) as usize;
        before_end(SILENT_S.0)..before_end(SILENT_S.1)
    }
}

/// The references at a rate and pace, worked out once and kept.
pub(in crate::sum_test) fn references(schedule: &Schedule) -> Arc<References> {
    /// By rate and slot, in Hz and frames.
    type Known = HashMap<(u64, u64), Arc<References>>;
    static KNOWN: LazyLock<Mutex<Known>> = LazyLock::new(Mutex::default);
    let key = (schedule.rate_hz() as u64, schedule.slot_frames());
    // A panic elsewhere cannot leave a half-made entry, so a poisoned lock is still good.
    let mut known = KNOWN.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    Arc::clone(known.entry(key).or_insert_with(|| Arc::new(References::new(schedule))))
}
