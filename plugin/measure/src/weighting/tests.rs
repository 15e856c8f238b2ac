//! K-weighting against the difference equations of its two stages.

use proptest::prelude::*;

use super::*;
use crate::batch::BATCH_FRAMES;
use crate::scalar::energy::{double, energy, sum};
use crate::scalar::signals::{block_lengths, cut, signals};
use crate::scalar::{biquad, peak, tries};

const RATES_HZ: [f64; 4] = [44_100.0, 48_000.0, 96_000.0, 192_000.0];

/// Error of an output of the filters, in parts of the largest sample. The high-pass's poles lie 1/800 from
/// the unit circle at the highest rate: each rounding, 1.1e-16, is worth 800² of them in the end.
const OUTPUT_ERROR: f64 = 1e-9;
/// What is dropped as decayed, 1e-30, drawn out by the same poles; squared.
const SETTLED: f64 = 1e-48;

type Four = [Vec<f32>; 4];

fn rate_hz() -> impl Strategy<Value = f64> {
    prop::sample::select(&RATES_HZ[..])
}

fn weighed(filter: &mut Weighting, four: &Four, lengths: &[usize]) -> [f64; 6] {
    let mut energies = WeightedEnergies::default();
    for range in cut(four[0].len(), lengths) {
        let [audible_a, audible_b, whole_a, whole_b] =
            four.each_ref().map(|signal| &signal[range.clone()]);
        energies += filter.process(&WeightingInput { audible_a, audible_b, whole_a, whole_b });
        filter.settle();
    }
    let WeightedEnergies { k: [a, b, c, d], k_sum: [e, f] } = energies;
    [a, b, c, d, e, f]
}

fn weighted(signal: &[f32], rate_hz: f64) -> Vec<f64> {
    let stages = k_weighting::stages(rate_hz);
    stages.iter().fold(double(signal), |x, stage| biquad::filtered(&x, stage.b, stage.a))
}

proptest! {
    #![proptest_config(tries(64))]

    #[test]
    fn energies_are_those_of_the_difference_equations(
        four in signals::<4>(0..=700), lengths in block_lengths(BATCH_FRAMES), rate_hz in rate_hz()
    ) {
        let [a, b, c, d] = four.each_ref().map(|signal| weighted(signal, rate_hz));
        let (audible, whole) = (sum(&a, &b), sum(&c, &d));
        let loudest = four.iter().map(|x| peak::largest(&double(x))).fold(0.0, f64::max);
        // A sum is twice as large at the most, and so is its error.
        let apart = 4.0 * OUTPUT_ERROR * loudest * loudest * four[0].len() as f64 + SETTLED;
        for arch in [Arch::Scalar, Arch::new()] {
            let mut filter = Weighting { arch, ..Weighting::new(rate_hz) };
            let found = weighed(&mut filter, &four, &lengths);
            for (found, signal) in found.into_iter().zip([&a, &b, &c, &d, &audible, &whole]) {
                let expected = energy(signal);
                prop_assert!((found - expected).abs() <= apart, "{found}, not {expected}");
            }
        }
    }

    #[test]
    fn nothing_is_left_after_a_reset(
        four in signals::<4>(0..=300),
        before in signals::<4>(1..=100),
        lengths in block_lengths(BATCH_FRAMES),
        rate_hz in rate_hz(),
    ) {
        let fresh = Weighting::new(rate_hz);
        let mut used = Weighting::new(rate_hz);
        weighed(&mut used, &before, &lengths);
        used.reset();
        let [fresh, used] =
            [fresh, used].map(|mut filter| weighed(&mut filter, &four, &lengths).map(f64::to_bits));
        prop_assert_eq!(fresh, used);
    }
}
