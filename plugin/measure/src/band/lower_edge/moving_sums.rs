//! The filter on the way down to the low rate, and on the way back up: moving sums one after the
//! other, each over as many frames as a sample of the low rate takes.
//!
//! Only what lies within the lower edge of a multiple of the low rate folds onto what lies below the
//! edge, or is an image of it, and there every moving sum is near a zero (E. B. Hogenauer, "An
//! economical class of digital filters for decimation and interpolation", IEEE Trans. Acoust., Speech,
//! Signal Process. 29, 1981). The zeros of two lie a little to either side, so that less is left
//! between them (L. Lo Presti, "Efficient modified-sinc filters for sigma-delta A/D converters", IEEE
//! Trans. Circuits Syst. II 47, 2000); the others stay, so that nothing is left of DC.

use std::f64::consts::TAU;

use realfft::num_complex::Complex64;

use crate::fir;

/// What folds onto what lies below the edge, and its images, in decibels; 6 dB better than promised.
const ATTENUATION_DB: f64 = 106.0;
/// How far the zeros of two moving sums lie from those of the others, in lower edges: x²·(x² − a²) is
/// nowhere larger, for |x| ≤ 1, than at the ends, with a² = 2·√2 − 2.
const APART: f64 = 0.910_179_721;

pub(super) struct MovingSums {
    /// Frames of each.
    frames: usize,
    /// By how much the response of each is moved, in cycles a frame.
    moved: Vec<f64>,
}

impl MovingSums {
    /// As many as it takes for a lower edge at `edge` cycles a frame.
    pub(super) fn new(frames: usize, edge: f64) -> Self {
        let apart = APART * edge;
        let mut sums = Self { frames, moved: vec![apart, -apart, 0.0, 0.0] };
        let most = 10f64.powf(-ATTENUATION_DB / 20.0);
        // What lies below the first multiple is the nearest.
        while frames > 1 && sums.gain(1.0 / frames as f64 - edge).abs() > most {
            sums.moved.push(0.0);
        }
        sums
    }

    pub(super) fn count(&self) -> usize {
        self.moved.len()
    }

    /// The gain at a frequency in cycles a frame; 1 at 0 Hz.
    pub(super) fn gain(&self, frequency: f64) -> f64 {
        let sum = |frequency| fir::sinc(self.frames as f64 * frequency) / fir::sinc(frequency);
        self.moved.iter().map(|moved| sum(frequency - moved) / sum(*moved)).product()
    }

    /// The taps of all together. Those that are `frames` apart add up to 1, from whichever on.
    pub(super) fn taps(&self) -> Vec<f64> {
        let mut taps = vec![Complex64::new(1.0, 0.0)];
        for moved in &self.moved {
            let [turn, turns] = [1, self.frames].map(|n| Complex64::cis(TAU * moved * n as f64));
            let mut sum = Complex64::default();
            let next = |n: usize| {
                let came = taps.get(n).copied().unwrap_or_default();
                let left = n.checked_sub(self.frames).map_or_else(Complex64::default, |n| taps[n]);
                sum = sum * turn + came - left * turns;
                sum
            };
            taps = (0..taps.len() + self.frames - 1).map(next).collect();
        }
        let total: Complex64 = taps.iter().sum();
        taps.into_iter().map(|tap| tap.re * self.frames as f64 / total.re).collect()
    }
}
