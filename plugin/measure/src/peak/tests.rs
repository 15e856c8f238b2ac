//! Peaks and overs against the samples looked at one by one: no operation differs, so nothing may.

use proptest::prelude::*;

use super::*;
use crate::scalar::energy::double;
use crate::scalar::peak;
use crate::scalar::signals::{block_lengths, cut, signal, signals};
use crate::scalar::tries;

proptest! {
    #![proptest_config(tries(256))]

    #[test]
    fn what_is_held_rises_to_each_magnitude([mut held, samples] in signals::<2>(0..=200)) {
        held.iter_mut().for_each(|held| *held = held.abs());
        let expected: Vec<f64> =
            held.iter().zip(&samples).map(|(x, y)| peak::largest(&double(&[*x, *y]))).collect();
        raise_to_magnitudes(&mut held, &samples);
        prop_assert_eq!(double(&held), expected);
    }

    #[test]
    fn overs_are_runs_of_samples_however_they_are_cut(
        samples in signal(0..=400),
        lengths in block_lengths(64),
        full_scale in prop_oneof![Just(1f32), 0f32..=1.0],
    ) {
        let mut overs = Overs::default();
        let mut begun = Vec::new();
        for range in cut(samples.len(), &lengths) {
            let bits = overs.take(&samples[range.clone()], full_scale);
            begun.extend(range.clone().filter(|frame| bits >> (frame - range.start) & 1 == 1));
        }
        prop_assert_eq!(&begun, &peak::runs(&double(&samples), full_scale.into()));
        prop_assert_eq!(overs.count, begun.len() as u64);
    }

    #[test]
    fn parts_counted_apart_are_counted_as_one(
        samples in signal(0..=64), at in 0usize..=64, full_scale in 0f32..=1.0
    ) {
        let (first, second) = samples.split_at(at.min(samples.len()));
        let mut overs = Overs::default();
        overs.take(first, full_scale);
        let mut later = Overs { count: 0, ..overs };
        later.take(second, full_scale);
        overs.append(later);
        let runs = peak::runs(&double(&samples), full_scale.into());
        prop_assert_eq!(overs.count, runs.len() as u64);
    }
}
