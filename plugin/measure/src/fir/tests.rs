//! One output of a filter against its sum in double precision.

use proptest::prelude::*;

use super::*;
use crate::scalar::energy::{double, magnitudes, product};
use crate::scalar::signals::signals;
use crate::scalar::{ROUNDING, UNDERFLOW, tries};

proptest! {
    #![proptest_config(tries(256))]

    #[test]
    fn an_output_is_the_sum_of_its_products([samples, taps] in signals::<2>(0..=700)) {
        let (x, y) = (double(&samples), double(&taps));
        // A product is rounded once, then while its lane, or the tail of less than 8, is added up, and
        // while the lanes are: halved five times, with three more vectors in between; and the tail.
        let roundings = 1.0 + f64::max(samples.len() as f64 / 32.0, 7.0) + 5.0 + 3.0 + 1.0;
        let apart = roundings * ROUNDING * product(&magnitudes(&x), &magnitudes(&y))
            + samples.len() as f64 * UNDERFLOW;
        let found = f64::from(dot(Arch::new(), &samples, &taps));
        prop_assert!((found - product(&x, &y)).abs() <= apart, "{found}, not {}", product(&x, &y));
        prop_assert_eq!(
            dot(Arch::Scalar, &samples, &taps).to_bits(),
            dot(Arch::new(), &samples, &taps).to_bits()
        );
    }
}
