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

    /// Fills `out[channel][n]` with `signals[channel]` at `place + step·n`, where `place` counts from a
    /// signal's first sample. Places need [`reach`](Self::reach) samples on either side within the
    /// signals.
    pub fn fill(&self, signals: &[Vec<f64>], place: f64, step: f64, out: &mut [Vec<f64>]) {
        let mut weights = vec![0.0; 2 * self.half];
        let (table, weights) = (&self.table[..], &mut weights[..]);
        self.arch.dispatch(Fill { table, weights, signals, place, step, out });
    }
}

/// Evaluates signals at whole steps from one place between samples.
#[derive(Clone)]
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
    table: &'a [f64],
    /// Room for those of one place.
    weights: &'a mut [f64],
    signals: &'a [Vec<f64>],
    place: f64,
    step: f64,
    out: &'a mut [Vec<f64>],
}

impl NullaryFnOnce for Fill<'_> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let Self { table, weights, signals, place, step, out } = self;
        let taps = weights.len();
        let frames = out.first().map_or(0, Vec::len);
        for n in 0..frames {
            let place = place + step * n as f64;
            let whole = place.floor();
            let phase = (place - whole) * PHASES as f64;
            let row = (phase as usize).min(PHASES - 1);
            let share = phase - row as f64;
            let first = whole as usize + 1 - taps / 2;
            let low = &table[row * taps..(row + 1) * taps];
            let high = &table[(row + 1) * taps..(row + 2) * taps];
            for ((weight, low), high) in weights.iter_mut().zip(low).zip(high) {
                *weight = low + share * (high - low);
            }
            for (signal, out) in signals.iter().zip(out.iter_mut()) {
                out[n] = weighted(&signal[first..first + taps], weights);
            }
        }
    }
}

/// The sum of samples by their weights, of which there are as many.
#[inline(always)]
fn weighted(signal: &[f64], weights: &[f64]) -> f64 {
    let (signals, signal) = signal.as_chunks::<8>();
    let (weights, weight) = weights.as_chunks::<8>();
    let mut lanes = [0f64; 8];
    for (x, weight) in signals.iter().zip(weights) {
        for i in 0..8 {
            lanes[i] += x[i] * weight[i];
        }
    }
    let rest: f64 = signal.iter().zip(weight).map(|(x, weight)| x * weight).sum();
    lanes.iter().sum::<f64>() + rest
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
        for (n, out) in self.out.iter_mut().enumerate() {
            *out = weighted(&self.signal[n..n + self.weights.len()], self.weights);
        }
    }
}

#[cfg(test)]
mod tests;
