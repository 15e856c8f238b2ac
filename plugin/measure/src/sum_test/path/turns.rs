//! What a delay does to the bins of a spectrum: turns, one after the other.

use std::f64::consts::TAU;

use realfft::num_complex::Complex64;

/// Bins from one exact turn to the next. Between them each is made from the one before, which a
/// sine and a cosine a bin would take many times as long for; rounding stays below 1e-14.
const EXACT_EVERY: usize = 64;

/// Turns by −2π·bin·delay/size, bin by bin.
pub(super) struct Turns {
    bin: usize,
    radians_a_bin: f64,
    step: Complex64,
    turn: Complex64,
}

impl Turns {
    /// The turns of a delay in frames from a bin on, in a spectrum of `size` frames.
    pub fn new(first: usize, delay_frames: f64, size: usize) -> Self {
        let radians_a_bin = -TAU * delay_frames / size as f64;
        Self {
            bin: first,
            radians_a_bin,
            step: Complex64::from_polar(1.0, radians_a_bin),
            turn: Complex64::from_polar(1.0, radians_a_bin * first as f64),
        }
    }
}

impl Iterator for Turns {
    type Item = Complex64;

    fn next(&mut self) -> Option<Complex64> {
        let turn = self.turn;
        self.bin += 1;
        self.turn = if self.bin.is_multiple_of(EXACT_EVERY) {
            Complex64::from_polar(1.0, self.radians_a_bin * self.bin as f64)
        } else {
            turn * self.step
        };
        Some(turn)
    }
}
