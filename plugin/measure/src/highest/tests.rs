//! The highest of many against looking at one after the other.

use proptest::prelude::*;

use super::*;
use crate::scalar::peak;
use crate::scalar::signals::signal;
use crate::scalar::tries;

proptest! {
    #![proptest_config(tries(256))]

    #[test]
    fn the_highest_is_the_highest_of_all(values in signal(0..=100)) {
        // The index counts too, so that no value is taken for another's.
        let height = |index: usize, value: f32| f64::from(value) * (index + 1) as f64;
        let heights: Vec<f64> =
            values.iter().enumerate().map(|(index, &value)| height(index, value).max(0.0)).collect();
        prop_assert_eq!(highest(&values, height), peak::largest(&heights));
    }

    #[test]
    fn the_total_is_the_sum_of_all(values in signal(0..=100)) {
        let values: Vec<f64> = values.into_iter().map(f64::from).collect();
        let expected: f64 = values.iter().sum();
        let magnitudes: f64 = values.iter().map(|value| value.abs()).sum();
        let apart = 100.0 * f64::EPSILON * magnitudes;
        prop_assert!((total(&values) - expected).abs() <= apart);
    }
}
