//! The printed filter against its four convolutions.

use proptest::prelude::*;

use super::*;
use crate::scalar::energy::double;
use crate::scalar::signals::blocks;
use crate::scalar::{ROUNDING, UNDERFLOW, filter, peak, tries};

/// A tap and a product are exact or rounded once, and a sum of twelve is rounded eleven times; the
/// magnitudes of a phase's taps sum up to less than 2.
const ERROR: f64 = 12.0 * ROUNDING * 2.0;

/// The largest output over the batches that are read. The first six outputs behind one that is not
/// belong to it.
fn formula(batches: &[Batch], reads: &[bool]) -> f64 {
    let signal = double(batches.as_flattened());
    let mut outputs = Vec::new();
    for printed in [PHASE_0, PHASE_1] {
        let mut taps = printed.map(|tap| f64::from(tap) / 8192.0);
        for _ in 0..2 {
            let all = filter::filtered(&signal, &taps);
            for (index, output) in all.as_chunks::<BATCH_FRAMES>().0.iter().enumerate() {
                let begins = index > 0 && !reads[index - 1];
                let counted = &output[if begins { 6 } else { 0 }..];
                outputs.extend(counted.iter().filter(|_| reads[index]));
            }
            taps.reverse();
        }
    }
    peak::largest(&outputs)
}

fn play(arch: Arch, filter: &mut PrintedFilter, batches: &[Batch], reads: &[bool]) {
    for (batch, reads) in batches.iter().zip(reads) {
        if *reads { filter.take(arch, batch, None) } else { filter.pass(batch) }
    }
}

proptest! {
    #![proptest_config(tries(128))]

    #[test]
    fn what_is_held_is_the_largest_output_of_the_four_phases(
        batches in blocks::<BATCH_FRAMES>(0..=6), reads: [bool; 6]
    ) {
        let mut filter = PrintedFilter::default();
        play(Arch::new(), &mut filter, &batches, &reads);
        let (found, expected) = (f64::from(filter.held), formula(&batches, &reads));
        let loudest = peak::largest(&double(batches.as_flattened()));
        let apart = ERROR * loudest + TAPS as f64 * UNDERFLOW;
        prop_assert!((found - expected).abs() <= apart, "{found}, not {expected}");
    }

    #[test]
    fn nothing_is_left_after_a_reset_and_every_processor_holds_the_same(
        batches in blocks::<BATCH_FRAMES>(0..=4),
        before in blocks::<BATCH_FRAMES>(0..=3),
        reads: [bool; 4],
    ) {
        let [mut fresh, mut used] = [PrintedFilter::default(), PrintedFilter::default()];
        play(Arch::new(), &mut used, &before, &reads);
        used.reset();
        play(Arch::Scalar, &mut fresh, &batches, &reads);
        play(Arch::new(), &mut used, &batches, &reads);
        prop_assert_eq!(fresh.held.to_bits(), used.held.to_bits());
        prop_assert_eq!(fresh.samples.map(f32::to_bits), used.samples.map(f32::to_bits));
    }
}
