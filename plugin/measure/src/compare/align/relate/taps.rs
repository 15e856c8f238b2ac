//! The taps of a filter from its response.

use realfft::RealFftPlanner;
use realfft::num_complex::Complex64;

/// Coherence below which a response is taken back: there is noise in its place.
const CLEAR: f64 = 0.5;

/// `count` taps around no delay, tapered, of a response by bin.
pub(super) fn of(response: &[Complex64], coherence: &[f64], count: usize) -> Vec<f64> {
    let size = 2 * (response.len() - 1);
    let inverse = RealFftPlanner::<f64>::new().plan_fft_inverse(size);
    let mut bins: Vec<Complex64> = response
        .iter()
        .zip(coherence)
        .map(|(bin, clear)| bin * (clear / CLEAR).min(1.0) / size as f64)
        .collect();
    bins[0].im = 0.0;
    bins[size / 2].im = 0.0;
    let mut time = inverse.make_output_vec();
    // Lengths come from the plan, so the transform cannot refuse them.
    let _ = inverse.process(&mut bins, &mut time);
    let half = count / 2;
    (0..count)
        .map(|n| {
            let from_middle = n as f64 - half as f64;
            let turn = std::f64::consts::FRAC_PI_2 * from_middle / half as f64;
            // Flat over most of its length: what is there is the filter's own.
            let taper = (1.0 - turn.sin().powi(8)).max(0.0);
            time[(n + size - half) % size] * taper
        })
        .collect()
}
