//! The four-term Blackman–Harris window: side lobes 92 dB down, a lobe that reaches four bins either
//! way (F. J. Harris, "On the use of windows for harmonic analysis with the discrete Fourier
//! transform", Proc. IEEE 66, 1978).

use std::f64::consts::PI;

/// Terms of the cosine sum.
const TERMS: [f64; 4] = [0.358_75, -0.488_29, 0.141_28, -0.011_68];
/// Bins on either side of a tone that its main lobe reaches.
pub(super) const LOBE_BINS: usize = 4;
/// Highest side lobe, as a power.
const SIDE_LOBE: f64 = 6.3e-10;
/// Bins from a tone from which side lobes stay below a fall of 6 dB an octave that begins at
/// `SIDE_LOBE`. The lobe at 7.4 bins touches it: those up to there hardly fall.
const SIDE_LOBE_BINS: f64 = 6.61;

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
    let amplitude = (PI * bins).sin() * envelope(bins) / (PI * TERMS[0]);
    amplitude * amplitude
}

/// The lobe's amplitude without its sine, between whole bins: each cosine of the window is a pair of
/// Dirichlet kernels, and all share one sine.
fn envelope(bins: f64) -> f64 {
    let square = bins * bins;
    let kernels: f64 = (1..TERMS.len()).map(|k| TERMS[k] / (square - (k * k) as f64)).sum();
    TERMS[0] / bins + bins * kernels
}

/// How far from its strongest bin towards the next stronger one a lone tone lies, from 0 to 0.5 bins,
/// by the powers of the two.
pub(super) fn offset(here: f64, next: f64) -> f64 {
    let (here, next) = (here.sqrt(), next.sqrt());
    let (mut low, mut high) = (0.0, 0.5);
    for _ in 0..24 {
        let offset = (low + high) / 2.0;
        // The further the tone lies towards the next bin, the more that one has of it. The sine is the
        // same for both.
        if next * envelope(offset).abs() > here * envelope(1.0 - offset).abs() {
            low = offset;
        } else {
            high = offset;
        }
    }
    (low + high) / 2.0
}

/// No less power than a tone of unit power shows `bins` beside its frequency, wherever it lies
/// between the bins.
pub(super) fn side_lobes(bins: f64) -> f64 {
    SIDE_LOBE * (SIDE_LOBE_BINS / bins).powi(2).min(1.0)
}

/// What is left of the correlation of a steady noise with itself `share` of a window later, when
/// both lie under the window.
pub(super) fn overlap(share: f64) -> f64 {
    const POINTS: usize = 256;
    let share = share.abs();
    let products = |n: usize| {
        let x = n as f64 / POINTS as f64;
        if x + share < 1.0 { at(x) * at(x + share) } else { 0.0 }
    };
    let [mean, cosines @ ..] = TERMS;
    let whole = mean * mean + cosines.iter().map(|c| c * c / 2.0).sum::<f64>();
    (0..POINTS).map(products).sum::<f64>() / POINTS as f64 / whole
}

/// The window at a share of its length.
fn at(share: f64) -> f64 {
    // The cosines of the multiples of an angle are polynomials of its cosine (Chebyshev's).
    let cosine = (2.0 * PI * share).cos();
    let (mut before, mut here) = (1.0, cosine);
    let mut sum = TERMS[0];
    for term in &TERMS[1..] {
        sum += term * here;
        (before, here) = (here, 2.0 * cosine * here - before);
    }
    sum
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
        }
    }

    /// Side lobes up to far away, each at many places; by the lobe that the test above holds true.
    #[test]
    fn no_side_lobe_stands_above_its_bound() {
        for place in 400..60_000 {
            let bins = f64::from(place) / 100.0;
            let (power, most) = (lobe(bins), side_lobes(bins));
            assert!(power <= most, "{bins}: {power} above {most}");
        }
    }

    #[test]
    fn the_offset_is_where_a_tone_lies() {
        for place in 0..=50 {
            let bins = f64::from(place) / 100.0;
            let found = offset(3.0 * lobe(bins), 3.0 * lobe(1.0 - bins));
            assert!((found - bins).abs() < 1e-6, "{bins}: {found}");
        }
    }

    /// The sum over products of the window with itself.
    #[test]
    fn the_overlap_is_the_window_s_autocorrelation() {
        let window = shape(1024);
        let product =
            |by: usize| -> f64 { window.iter().zip(&window[by..]).map(|(a, b)| a * b).sum() };
        for by in [0, 1, 100, 307, 512, 614, 1000] {
            let expected = product(by) / product(0);
            let found = overlap(by as f64 / 1024.0);
            assert!((found - expected).abs() < 1e-6, "{by}: {found} {expected}");
        }
    }
}
