//! Linear-phase filters by the window method: a sinc under a Kaiser window.
//!
//! Source: J. F. Kaiser, "Nonrecursive digital filter design using the I0-sinh window function",
//! Proc. IEEE Int. Symp. Circuits and Systems, 1974: window shape and length from the attenuation
//! and the width of the transition.

use std::f64::consts::PI;

use pulp::{Arch, NullaryFnOnce};

/// Shape of the Kaiser window whose filters keep ripple and stop band `attenuation_db` down
/// (above 50 dB).
pub(crate) fn kaiser_beta(attenuation_db: f64) -> f64 {
    0.1102 * (attenuation_db - 8.7)
}

/// Half the length, in samples, of a filter that reaches `attenuation_db` over a transition
/// `width` wide (as a share of the sample rate).
pub(crate) fn half_length(attenuation_db: f64, width: f64) -> usize {
    ((attenuation_db - 7.95) / (14.36 * width) / 2.0).ceil() as usize
}

/// The Kaiser window at `position` between −1 and 1.
pub(crate) fn kaiser(position: f64, beta: f64) -> f64 {
    if position.abs() >= 1.0 {
        return 0.0;
    }
    bessel_i0(beta * (1.0 - position * position).sqrt()) / bessel_i0(beta)
}

/// `2·half + 1` taps of a low-pass filter with its −6 dB point at `cutoff` (as a share of the
/// sample rate) and unity gain at 0 Hz.
pub(crate) fn low_pass(cutoff: f64, half: usize, attenuation_db: f64) -> Vec<f64> {
    let beta = kaiser_beta(attenuation_db);
    let reach = half as f64 + 1.0;
    let mut taps: Vec<f64> = (0..=2 * half)
        .map(|index| {
            let t = index as f64 - half as f64;
            2.0 * cutoff * sinc(2.0 * cutoff * t) * kaiser(t / reach, beta)
        })
        .collect();
    let gain: f64 = taps.iter().sum();
    taps.iter_mut().for_each(|tap| *tap /= gain);
    taps
}

/// One output of a filter: the sum of the products of as many samples as taps.
pub(crate) fn dot(arch: Arch, samples: &[f32], taps: &[f32]) -> f32 {
    arch.dispatch(Dot { samples, taps })
}

struct Dot<'a> {
    samples: &'a [f32],
    taps: &'a [f32],
}

impl NullaryFnOnce for Dot<'_> {
    type Output = f32;

    #[inline(always)]
    fn call(self) -> f32 {
        // Four vectors of eight, so that additions need not wait for each other.
        const LANES: usize = 8;
        let mut lanes = [0f32; 4 * LANES];
        let (chunks, rest) = self.samples.as_chunks::<{ 4 * LANES }>();
        let (taps, rest_taps) = self.taps.as_chunks::<{ 4 * LANES }>();
        for (x, tap) in chunks.iter().zip(taps) {
            for i in 0..4 * LANES {
                lanes[i] += x[i] * tap[i];
            }
        }
        let lanes = whole_vectors(lanes);
        let mut eight = [0f32; LANES];
        for i in 0..LANES {
            let [one, two] = [lanes[i] + lanes[i + 16], lanes[i + 8] + lanes[i + 24]];
            eight[i] = one + two;
        }
        let (chunks, rest) = rest.as_chunks::<LANES>();
        let (taps, rest_taps) = rest_taps.as_chunks::<LANES>();
        for (x, tap) in chunks.iter().zip(taps) {
            for i in 0..LANES {
                eight[i] += x[i] * tap[i];
            }
        }
        let tail: f32 = rest.iter().zip(rest_taps).map(|(x, tap)| x * tap).sum();
        let eight = whole_vectors(eight);
        let mut four = [0f32; 4];
        for i in 0..4 {
            four[i] = eight[i] + eight[i + 4];
        }
        (four[0] + four[2]) + (four[1] + four[3]) + tail
    }
}

/// Lanes as they are, by way of memory, before they are added up or compared with each other: where the
/// compiler sees both, it plans the loop that fills them for the few steps behind it, and makes half or
/// quarter vectors and shuffles of it.
#[inline(always)]
fn whole_vectors<const N: usize>(lanes: [f32; N]) -> [f32; N] {
    std::hint::black_box(lanes)
}

/// `sin(πx)/(πx)`.
pub(crate) fn sinc(x: f64) -> f64 {
    if x == 0.0 { 1.0 } else { (PI * x).sin() / (PI * x) }
}

/// Modified Bessel function of the first kind, order 0, by its power series.
fn bessel_i0(x: f64) -> f64 {
    let quarter = x * x / 4.0;
    let mut term = 1.0;
    let mut sum = 1.0;
    let mut k = 1.0;
    while term > sum * 1e-17 {
        term *= quarter / (k * k);
        sum += term;
        k += 1.0;
    }
    sum
}

#[cfg(test)]
mod tests;
