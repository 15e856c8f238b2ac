//! The Hann window, and what it leaves of a correlation.

use std::f64::consts::{PI, TAU};

/// Mean square of the window.
pub(crate) const MEAN_SQUARE: f64 = 3.0 / 8.0;
/// Mean fourth power of the window.
pub(crate) const MEAN_FOURTH: f64 = 35.0 / 128.0;

/// The window over an even number of frames.
pub(crate) fn shape(length: usize) -> Vec<f64> {
    let half = length / 2;
    let rising = (0..=half).map(|n| 0.5 - 0.5 * (TAU * n as f64 / length as f64).cos());
    let mut window: Vec<f64> = rising.collect();
    window.extend_from_within(1..half);
    window[half + 1..].reverse();
    window
}

/// What is left of a product of a sound with itself `share` of the window's length later, from 0 to 1,
/// when both lie under the window: its autocorrelation.
pub(crate) fn overlap(share: f64) -> f64 {
    let angle = TAU * share;
    (1.0 - share) * (2.0 + angle.cos()) / 3.0 + angle.sin() / (2.0 * PI)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Sums over products of the window with itself.
    #[test]
    fn moments_and_overlap_are_the_window_s() {
        let window = shape(1024);
        let product =
            |by: usize| -> f64 { window.iter().zip(&window[by..]).map(|(a, b)| a * b).sum() };
        for by in [0, 1, 100, 307, 512, 614, 1000] {
            let (expected, found) = (product(by) / product(0), overlap(by as f64 / 1024.0));
            assert!((found - expected).abs() < 1e-6, "{by}: {found} {expected}");
        }
        let mean = |power: i32| window.iter().map(|w| w.powi(power)).sum::<f64>() / 1024.0;
        assert!((mean(2) - MEAN_SQUARE).abs() < 1e-12 && (mean(4) - MEAN_FOURTH).abs() < 1e-12);
    }
}
