//! What a response delays beyond the phase that belongs to its level.
//!
//! A causal filter without delay of its own turns the phase by the Hilbert transform of its level's
//! logarithm (minimum phase; A. V. Oppenheim, R. W. Schafer, "Discrete-Time Signal Processing", 1989,
//! section 12.1: the homomorphic way through the cepstrum). What is left of the phase is delay, or an
//! all-pass.

use realfft::RealFftPlanner;
use realfft::num_complex::Complex64;

/// Coherence from which a bin's phase is believed.
const CLEAR: f64 = 0.7;
/// Share of the bins whose phase has to be known: a tone has many delays.
const LEAST_KNOWN: f64 = 0.1;
/// Lowest level of a response against its highest that is believed: −60 dB.
const LOWEST: f64 = 1e-3;

/// That delay of a response by bin, in frames; none where too little of the phase is known.
pub(super) fn late(response: &[Complex64], coherence: &[f64]) -> f64 {
    let bins = response.len();
    let size = 2 * (bins - 1);
    let believed = |bin: usize| coherence[bin] >= CLEAR;
    let highest =
        (0..bins).filter(|bin| believed(*bin)).map(|bin| response[bin].norm()).fold(0.0, f64::max);
    if highest <= 0.0 {
        return 0.0;
    }
    // Where nothing is known, the level of the nearest bin that is.
    let mut held = None;
    let mut levels: Vec<Option<f64>> = (0..bins)
        .map(|bin| {
            if believed(bin) {
                held = Some((response[bin].norm() / highest).max(LOWEST).ln());
            }
            held
        })
        .collect();
    let first = levels.iter().flatten().next().copied().unwrap_or(0.0);
    levels.iter_mut().for_each(|level| *level = Some(level.unwrap_or(first)));
    let mut planner = RealFftPlanner::<f64>::new();
    let (forward, inverse) = (planner.plan_fft_forward(size), planner.plan_fft_inverse(size));
    let mut spectrum: Vec<Complex64> =
        levels.iter().map(|level| Complex64::new(level.unwrap_or(0.0), 0.0)).collect();
    let mut cepstrum = inverse.make_output_vec();
    // Lengths come from the plans, so the transforms cannot refuse them.
    let _ = inverse.process(&mut spectrum, &mut cepstrum);
    // Everything before no delay is folded behind it.
    for (n, value) in cepstrum.iter_mut().enumerate() {
        let fold = if n == 0 || n == size / 2 {
            1.0
        } else if n < size / 2 {
            2.0
        } else {
            0.0
        };
        *value *= fold / size as f64;
    }
    let _ = forward.process(&mut cepstrum, &mut spectrum);
    let mut left: Vec<Complex64> = (0..bins)
        .map(|bin| {
            let norm = response[bin].norm();
            if !believed(bin) || norm <= LOWEST * highest || bin == 0 || bin == size / 2 {
                return Complex64::default();
            }
            let phase = response[bin] / norm * Complex64::from_polar(1.0, -spectrum[bin].im);
            phase * coherence[bin]
        })
        .collect();
    let known = left.iter().filter(|phase| phase.norm_sqr() > 0.0).count();
    if (known as f64) < LEAST_KNOWN * bins as f64 {
        return 0.0;
    }
    let mut time = inverse.make_output_vec();
    let phases = left.clone();
    let _ = inverse.process(&mut left, &mut time);
    let reach = size / 4;
    let lag = (0..reach)
        .chain(size - reach..size)
        .max_by(|&a, &b| time[a].abs().total_cmp(&time[b].abs()))
        .unwrap_or(0);
    let whole = if lag < size / 2 { lag as f64 } else { lag as f64 - size as f64 };
    let at = |late: f64| -> f64 {
        let turn = std::f64::consts::TAU * late / size as f64;
        let each = phases.iter().enumerate();
        each.map(|(bin, phase)| (phase * Complex64::from_polar(1.0, turn * bin as f64)).re)
            .sum::<f64>()
            .abs()
    };
    let (mut low, mut high) = (whole - 0.75, whole + 0.75);
    // Thirds: there is one maximum around the highest lag.
    for _ in 0..20 {
        let (one, two) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
        if at(one) < at(two) { low = one } else { high = two }
    }
    (low + high) / 2.0
}
