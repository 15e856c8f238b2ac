//! The four-term Blackman–Harris window: side lobes 92 dB down, a lobe that reaches four bins either
//! way (F. J. Harris, "On the use of windows for harmonic analysis with the discrete Fourier
//! transform", Proc. IEEE 66, 1978).

use std::f64::consts::PI;

/// Terms of the cosine sum.
const TERMS: [f64; 4] = [0.358_75, -0.488_29, 0.141_28, -0.011_68];
/// Bins on either side of a tone that its main lobe reaches.
pub(super) const LOBE_BINS: usize = 4;
/// Highest side lobe, as a power; further ones fall by 6 dB an octave or faster.
const SIDE_LOBE: f64 = 6.3e-10;
/// Bins from a tone within which side lobes reach `SIDE_LOBE`.
const SIDE_LOBE_BINS: f64 = 5.0;

/// The window over `length` frames.
pub(super) fn shape(length: usize) -> Vec<f64> {
    (0..length)
        .map(|n| {
            let angle = 2.0 * PI * n as f64 / length as f64;
            TERMS.iter().enumerate().map(|(k, c)| c * (k as f64 * angle).cos()).sum()
        })
        .collect()
}

/// Power that a tone shows `bins` beside its frequency, against what it shows there.
pub(super) fn lobe(bins: f64) -> f64 {
    let whole = bins.round();
    if (bins - whole).abs() < 1e-6 {
        let term = TERMS.get(whole.abs() as usize).copied().unwrap_or(0.0);
        let share = if whole == 0.0 { 1.0 } else { term / 2.0 / TERMS[0] };
        return share * share;
    }
    // Each cosine of the sum is a pair of Dirichlet kernels, and all share one sine.
    let kernels: f64 = (1..TERMS.len())
        .map(|k| TERMS[k] / 2.0 * (1.0 / (bins - k as f64) + 1.0 / (bins + k as f64)))
        .sum();
    let amplitude = (PI * bins).sin() / PI * (TERMS[0] / bins + kernels) / TERMS[0];
    amplitude * amplitude
}

/// No less power than a tone of unit power shows `bins` beside its frequency, wherever it lies
/// between the bins.
pub(super) fn side_lobes(bins: f64) -> f64 {
    SIDE_LOBE * (SIDE_LOBE_BINS / bins).powi(2).min(1.0)
}

/// What is left of the correlation of a steady noise with itself `share` of a window later, when
/// both lie under the window.
pub(super) fn overlap(share: f64) -> f64 {
    const STEPS: usize = 256;
    let at = |x: f64| -> f64 {
        if !(0.0..1.0).contains(&x) {
            return 0.0;
        }
        TERMS.iter().enumerate().map(|(k, c)| c * (2.0 * PI * k as f64 * x).cos()).sum()
    };
    let product = |shift: f64| -> f64 {
        (0..STEPS).map(|n| n as f64 / STEPS as f64).map(|x| at(x) * at(x + shift)).sum()
    };
    product(share.abs()) / product(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The transform of the window itself, term by term.
    #[test]
    fn the_lobe_is_the_window_s_transform() {
        let window = shape(512);
        let gain: f64 = window.iter().sum();
        for bins in [0.0, 0.3, 0.5, 1.0, 1.7, 2.0, 2.5, 3.0, 3.9, 4.5, 7.3, 20.5] {
            let parts = window.iter().enumerate().map(|(n, w)| {
                let angle = 2.0 * PI * bins * n as f64 / window.len() as f64;
                [w * angle.cos(), w * angle.sin()]
            });
            let [re, im] = parts.fold([0.0; 2], |sum, part| [sum[0] + part[0], sum[1] + part[1]]);
            let expected = (re * re + im * im) / gain / gain;
            assert!((lobe(bins) - expected).abs() < 1e-9, "{bins}: {} {expected}", lobe(bins));
            assert!(bins < 4.5 || expected <= side_lobes(bins) * 1.01, "{bins}: {expected}");
        }
    }
}
