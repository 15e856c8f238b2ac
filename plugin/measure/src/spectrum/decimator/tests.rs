//! The decimator against its convolution, of which it keeps one output in so many.

use proptest::prelude::*;

use super::*;
use crate::scalar::energy::{double, magnitudes};
use crate::scalar::signals::signals;
use crate::scalar::{ROUNDING, UNDERFLOW, filter, tries};

const RATES_HZ: [f64; 4] = [8_000.0, 44_100.0, 48_000.0, 192_000.0];

/// What leaves for a pair, in batches of which the last may be short.
fn taken(decimator: &mut Decimator, pair: &[Vec<f32>; 2]) -> [Vec<f32>; 2] {
    let mut low = [Vec::new(), Vec::new()];
    for (a, b) in pair[0].chunks(BATCH_FRAMES).zip(pair[1].chunks(BATCH_FRAMES)) {
        // What lies behind the last frame is not to count.
        let mut batch = PairBatch { a: [1e6; BATCH_FRAMES], b: [1e6; BATCH_FRAMES] };
        batch.a[..a.len()].copy_from_slice(a);
        batch.b[..b.len()].copy_from_slice(b);
        decimator.take(&batch, a.len(), |a, b| {
            low[0].push(a);
            low[1].push(b);
        });
    }
    low
}

proptest! {
    #![proptest_config(tries(32))]

    #[test]
    fn samples_of_the_low_rate_are_outputs_of_the_filter(
        rate_hz in prop::sample::select(&RATES_HZ[..]),
        pair in signals::<2>(0..=2_000),
        plain: bool,
    ) {
        let mut decimator = Decimator::new(rate_hz);
        decimator.arch = if plain { Arch::Scalar } else { Arch::new() };
        let found = taken(&mut decimator, &pair);
        let factor = decimator.factor;
        let taps = fir::low_pass(0.5 / factor as f64, REACH * factor, ATTENUATION_DB);
        // A tap is rounded, a product, then while its lane is added up, and while the lanes are.
        let roundings = 2.0 + taps.len() as f64 / LANES as f64 + 8.0 + LANES as f64;
        for (found, signal) in found.iter().zip(&pair) {
            let signal = double(signal);
            let kept = |x: &[f64], taps: &[f64]| -> Vec<f64> {
                filter::filtered(x, taps).into_iter().skip(factor - 1).step_by(factor).collect()
            };
            let expected = kept(&signal, &taps);
            let magnitudes = kept(&magnitudes(&signal), &magnitudes(&taps));
            prop_assert_eq!(found.len(), expected.len());
            for ((found, expected), magnitude) in found.iter().zip(&expected).zip(magnitudes) {
                let apart = roundings * ROUNDING * magnitude + taps.len() as f64 * UNDERFLOW;
                let miss = (f64::from(*found) - expected).abs();
                prop_assert!(miss <= apart, "{found}, not {expected}");
            }
        }
    }

    #[test]
    fn nothing_is_left_after_a_reset(
        rate_hz in prop::sample::select(&RATES_HZ[..]),
        pair in signals::<2>(0..=2_000),
        before in signals::<2>(0..=1_000),
    ) {
        let mut fresh = Decimator::new(rate_hz);
        let mut used = Decimator::new(rate_hz);
        taken(&mut used, &before);
        used.reset();
        let bits = |low: [Vec<f32>; 2]| {
            low.map(|half| half.into_iter().map(f32::to_bits).collect::<Vec<_>>())
        };
        prop_assert_eq!(bits(taken(&mut fresh, &pair)), bits(taken(&mut used, &pair)));
    }
}
