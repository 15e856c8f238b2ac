//! The discrete Fourier transform by its definition.

use std::f64::consts::TAU;

use rustfft::num_complex::Complex64;

/// `X[k] = Σ x[n]·e^(−2πikn/N)`, N being `size`; a shorter signal is followed by silence.
pub(crate) fn bin(x: &[f64], k: usize, size: usize) -> Complex64 {
    let turn = |n: usize| Complex64::from_polar(1.0, -TAU * ((k * n) % size) as f64 / size as f64);
    x.iter().enumerate().map(|(n, x)| turn(n) * x).sum()
}
