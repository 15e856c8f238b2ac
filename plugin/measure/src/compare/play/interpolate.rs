//! A signal between its samples: a windowed sinc, 130 dB deep.
//!
//! For a place between two samples the weights are interpolated in a table of places. What lies
//! nearer to half the lower rate than the window's transition is not kept exactly; see
//! [`Interpolator::exact_to`].

use std::sync::Arc;

use pulp::{Arch, NullaryFnOnce};

use crate::fir;

const ATTENUATION_DB: f64 = 130.0;
/// Samples of the slower of the two rates on either side of a place.
const REACH: usize = 80;
/// Places between two samples that the table holds: the straight line between two of them is
/// 130 dB exact at half the rate, and better below.
const PHASES: usize = 2048;
/// Reach where there is one place only, so that a longer window costs no table.
const LONG_REACH: usize = 240;

/// Evaluates signals at `start + step·n`.
#[derive(Clone)]
pub(in crate::compare) struct Interpolator {
    arch: Arch,
    /// Samples on either side.
    half: usize,
    /// `(PHASES + 1) × 2·half` weights.
    table: Arc<Vec<f64>>,
    /// Share of half the source's rate up to which it is exact.
    exact: f64,
}

impl Interpolator {
    /// For steps near `step` source samples.
    pub fn new(step: f64) -> Self {
        // A step above one leaves less room below half the rate; the window widens by as much.
        let cutoff = if step > 1.0005 { 1.0 / step } else { 1.0 };
        let half = (REACH as f64 / cutoff).ceil() as usize;
        let mut table = Vec::with_capacity((PHASES + 1) * 2 * half);
        for phase in 0..=PHASES {
            table.extend(weights(phase as f64 / PHASES as f64, half, cutoff));
        }
        let width = (ATTENUATION_DB - 7.95) / (14.36 * 2.0 * half as f64);
        let exact = cutoff - width;
        Self { arch: Arch::new(), half, table: Arc::new(table), exact }
    }

    /// Up to which frequency it is exact, in Hz, for a source at `rate_hz`.
    pub fn exact_to(&self, rate_hz: f64) -> f64 {
        self.exact * rate_hz / 2.0
    }

    /// Frames that it leans on before and behind a place.
    pub fn reach(&self) -> usize {
        self.half + 1
    }

    /// Fills `out[n]` with `signal` at `place + step·n`, where `place` counts from `signal[0]`.
    /// Places need [`reach`](Self::reach) samples on either side within `signal`.
    pub fn fill(&self, signal: &[f64], place: f64, step: f64, out: &mut [f64]) {
        self.arch.dispatch(Fill { half: self.half, table: &self.table, signal, place, step, out });
    }
}

/// Evaluates signals at whole steps from one place between samples.
pub(in crate::compare) struct Shifter {
    arch: Arch,
    weights: Vec<f64>,
}

impl Shifter {
    /// For places `fraction` behind a sample.
    pub fn new(fraction: f64) -> Self {
        Self { arch: Arch::new(), weights: weights(fraction, LONG_REACH, 1.0) }
    }

    pub fn reach(&self) -> usize {
        LONG_REACH + 1
    }

    /// Up to which frequency it is exact, in Hz.
    pub fn exact_to(rate_hz: f64) -> f64 {
        rate_hz / 2.0 * (1.0 - (ATTENUATION_DB - 7.95) / (14.36 * 2.0 * LONG_REACH as f64))
    }

    /// Fills `out[n]` with `signal` a fraction behind `signal[first + n]`.
    pub fn fill(&self, signal: &[f64], first: usize, out: &mut [f64]) {
        let start = first + 1 - LONG_REACH;
        let signal = &signal[start..start + out.len() + 2 * LONG_REACH - 1];
        self.arch.dispatch(Shift { weights: &self.weights, signal, out });
    }
}

/// Weights of the samples around a place `fraction` behind the middle one.
fn weights(fraction: f64, half: usize, cutoff: f64) -> Vec<f64> {
    let beta = fir::kaiser_beta(ATTENUATION_DB);
    let taps: Vec<f64> = (0..2 * half)
        .map(|k| {
            let t = k as f64 - (half as f64 - 1.0) - fraction;
            cutoff * fir::sinc(cutoff * t) * fir::kaiser(t / half as f64, beta)
        })
        .collect();
    // Unity at 0 Hz for every place, so that a place cannot modulate the level.
    let sum: f64 = taps.iter().sum();
    taps.into_iter().map(|tap| tap / sum).collect()
}

struct Fill<'a> {
    half: usize,
    table: &'a [f64],
    signal: &'a [f64],
    place: f64,
    step: f64,
    out: &'a mut [f64],
}

impl NullaryFnOnce for Fill<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let taps = 2 * self.half;
        for (n, out) in self.out.iter_mut().enumerate() {
            let place = self.place + self.step * n as f64;
            let whole = place.floor();
            let phase = (place - whole) * PHASES as f64;
            let row = (phase as usize).min(PHASES - 1);
            let share = phase - row as f64;
            let first = whole as usize + 1 - self.half;
            let signal = &self.signal[first..first + taps];
            let low = &self.table[row * taps..(row + 1) * taps];
            let high = &self.table[(row + 1) * taps..(row + 2) * taps];
            let mut lanes = [[0f64; 8]; 2];
            for ((x, low), high) in signal
                .as_chunks::<8>()
                .0
                .iter()
                .zip(low.as_chunks::<8>().0)
                .zip(high.as_chunks::<8>().0)
            {
                for i in 0..8 {
                    lanes[0][i] += x[i] * low[i];
                    lanes[1][i] += x[i] * high[i];
                }
            }
            let rest = taps - taps % 8;
            for i in rest..taps {
                lanes[0][0] += signal[i] * low[i];
                lanes[1][0] += signal[i] * high[i];
            }
            let [low, high] = lanes.map(|lanes| lanes.iter().sum::<f64>());
            *out = low + share * (high - low);
        }
    }
}

struct Shift<'a> {
    weights: &'a [f64],
    signal: &'a [f64],
    out: &'a mut [f64],
}

impl NullaryFnOnce for Shift<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let weights = self.weights.as_chunks::<8>().0;
        for (n, out) in self.out.iter_mut().enumerate() {
            let mut lanes = [0f64; 8];
            let signal = &self.signal[n..n + self.weights.len()];
            for (x, weight) in signal.as_chunks::<8>().0.iter().zip(weights) {
                for i in 0..8 {
                    lanes[i] += x[i] * weight[i];
                }
            }
            *out = lanes.iter().sum();
        }
    }
}

#[cfg(test)]
mod tests;
