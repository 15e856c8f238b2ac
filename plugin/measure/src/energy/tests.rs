//! Energies against sums of squares in double precision, and the largest magnitudes against the samples
//! looked at one by one.

use proptest::prelude::*;

use super::*;
use crate::batch::BATCH_FRAMES;
use crate::scalar::energy::{difference, double, energy, magnitudes, product, sum};
use crate::scalar::signals::{blocks, signals};
use crate::scalar::{ROUNDING, UNDERFLOW, peak, tries};

/// Each of a batch's squares is rounded three times at the most, seven times more while its lane is
/// added up, and three while the lanes are.
const ROUNDINGS: f64 = 13.0;

/// How far apart two sums of a batch may lie, of whose terms the magnitudes sum up to `magnitude`.
fn apart(magnitude: f64) -> f64 {
    ROUNDINGS * ROUNDING * magnitude + BATCH_FRAMES as f64 * UNDERFLOW
}

proptest! {
    #![proptest_config(tries(256))]

    #[test]
    fn energies_of_a_pair_are_sums_of_squares([a, b] in signals::<2>(0..=BATCH_FRAMES)) {
        let (energies, _) = pair_levels(Arch::new(), &a, &b);
        let (x, y) = (double(&a), double(&b));
        let (together, apart_by) = (sum(&x, &y), difference(&x, &y));
        for (found, expected) in [
            (energies.aa, energy(&x)),
            (energies.bb, energy(&y)),
            (energies.sum, energy(&together)),
            (energies.difference, energy(&apart_by)),
        ] {
            prop_assert!((found - expected).abs() <= apart(expected), "{found}, not {expected}");
        }
        let (found, expected) = (energies.ab, product(&x, &y));
        let magnitude = product(&magnitudes(&x), &magnitudes(&y));
        prop_assert!((found - expected).abs() <= apart(magnitude), "{found}, not {expected}");
    }

    #[test]
    fn the_largest_magnitudes_are_those_of_some_sample([a, b] in signals::<2>(0..=200)) {
        let sum: Vec<f32> = a.iter().zip(&b).map(|(a, b)| a + b).collect();
        let expected = [&a, &b, &sum].map(|signal| peak::largest(&double(signal)));
        for arch in [Arch::Scalar, Arch::new()] {
            prop_assert_eq!(pair_levels(arch, &a, &b).1.map(f64::from), expected);
        }
    }

    #[test]
    fn a_batch_is_taken_apart_into_what_its_filters_left(
        parts in blocks::<BATCH_FRAMES>(3..=3), dirt in blocks::<BATCH_FRAMES>(1..=1)
    ) {
        let [whole, low_passed, below] = [&parts[0], &parts[1], &parts[2]];
        let mut audible = dirt[0];
        let found = take_apart(Arch::new(), whole, low_passed, below, &mut audible);
        for i in 0..BATCH_FRAMES {
            prop_assert_eq!(audible[i].to_bits(), (low_passed[i] - below[i]).to_bits());
        }
        let [whole, low_passed, below] = [whole, low_passed, below].map(|batch| double(batch));
        let above = energy(&difference(&whole, &low_passed));
        prop_assert!((found.above - above).abs() <= apart(above), "{} above, not {above}", found.above);
        let under = energy(&below);
        prop_assert!((found.below - under).abs() <= apart(under), "{} below, not {under}", found.below);
        let level: f64 = whole.iter().sum();
        let magnitude = magnitudes(&whole).iter().sum();
        prop_assert!((found.sum - level).abs() <= apart(magnitude), "{}, not {level}", found.sum);
    }

    #[test]
    fn every_processor_finds_the_same_energies(
        [a, b] in signals::<2>(0..=BATCH_FRAMES), parts in blocks::<BATCH_FRAMES>(3..=3)
    ) {
        let pair = |arch| {
            let (energies, _) = pair_levels(arch, &a, &b);
            let PairEnergies { aa, bb, ab, sum, difference } = energies;
            [aa, bb, ab, sum, difference].map(f64::to_bits)
        };
        prop_assert_eq!(pair(Arch::Scalar), pair(Arch::new()));
        let hidden = |arch| {
            let mut audible = [0.0; BATCH_FRAMES];
            let found = take_apart(arch, &parts[0], &parts[1], &parts[2], &mut audible);
            let HiddenEnergies { sum, above, below } = found;
            ([sum, above, below].map(f64::to_bits), audible.map(f32::to_bits))
        };
        prop_assert_eq!(hidden(Arch::Scalar), hidden(Arch::new()));
    }
}
