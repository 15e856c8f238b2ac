//! Correlation by lag against the discrete Fourier transform by its definition.

use proptest::prelude::*;
use std::f64::consts::TAU;

use super::*;
use crate::scalar::energy::double;
use crate::scalar::fourier::bin;
use crate::scalar::signals::signal;
use crate::scalar::{peak, tries};

/// Frames of an export's window, and lags to either side.
const FRAMES: usize = 50;
const SEARCH: usize = 7;
const MIX: usize = FRAMES + 2 * SEARCH;
const RATE_HZ: f64 = 48_000.0;
const BAND_HZ: (f64, f64) = (1_000.0, 20_000.0);

/// Correlation of a mix's window with an export's at a lag, as the weighted bins of both have it.
fn correlation(mix: &[f64], export: &[f64], weights: &[f64], lag: usize) -> f64 {
    let size = 2 * (weights.len() - 1);
    (1..size / 2)
        .map(|k| {
            let turned = Complex64::from_polar(1.0, TAU * (k * lag) as f64 / size as f64);
            let cross = bin(mix, k, size) * bin(export, k, size).conj();
            2.0 * weights[k].powi(2) * (cross * turned).re
        })
        .sum()
}

proptest! {
    #![proptest_config(tries(24))]

    #[test]
    fn curves_are_correlations_of_each_channel_with_each_whatever_was_there_before(
        mix in [signal(MIX..=MIX), signal(MIX..=MIX)],
        export in signal(FRAMES..=FRAMES),
        before in signal(MIX..=MIX),
    ) {
        let inside = |hz: f64| f64::from(u8::from((BAND_HZ.0..BAND_HZ.1).contains(&hz)));
        let mut correlator = Correlator::new(FRAMES, SEARCH, [2, 1], inside, RATE_HZ);
        let (mix, export) = (mix.each_ref().map(|mix| double(mix)), double(&export));
        let before = double(&before);
        correlator.best(&[before.clone(), before.clone()], &[before[..FRAMES].to_vec()]);
        correlator.best(&mix, std::slice::from_ref(&export));
        for (curve, mix) in correlator.curves[0].iter().zip(&mix) {
            prop_assert_eq!(curve.len(), 2 * SEARCH + 1);
            let loudest = peak::largest(mix) * peak::largest(&export);
            // Bins are sums of 64 samples, and as many products of two of them make a correlation.
            let apart = (MIX * MIX * MIX) as f64 * f64::EPSILON * loudest;
            for (lag, found) in curve.iter().enumerate() {
                let expected = correlation(mix, &export, &correlator.weights, lag);
                prop_assert!((found - expected).abs() <= apart, "{found} at {lag}, not {expected}");
            }
        }
    }
}
