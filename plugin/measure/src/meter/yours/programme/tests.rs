//! Programme meters on every processor, and after a reset.

use proptest::prelude::*;

use super::*;
use crate::scalar::signals::blocks;
use crate::scalar::tries;

/// A stride of one sample, and each that vectors go through.
const RATES_HZ: [f64; 4] = [8_000.0, 44_100.0, 96_000.0, 192_000.0];

fn play(arch: Arch, programme: &mut Programme, batches: &[[Batch; 2]]) -> Vec<[f32; 2]> {
    let shown = batches.iter().map(|&[a, b]| {
        let highest = programme.take(arch, &PairBatch { a, b });
        [highest, programme.linear()]
    });
    shown.collect()
}

proptest! {
    #![proptest_config(tries(64))]

    #[test]
    fn every_processor_shows_the_same_and_nothing_is_left_after_a_reset(
        rate_hz in prop::sample::select(&RATES_HZ[..]),
        programme in prop::sample::select(&[ProgrammeType::I, ProgrammeType::II][..]),
        a in blocks::<BATCH_FRAMES>(1..=20),
        b in blocks::<BATCH_FRAMES>(1..=20),
    ) {
        let batches: Vec<[Batch; 2]> = a.into_iter().zip(b).map(|(a, b)| [a, b]).collect();
        let swapped: Vec<[Batch; 2]> = batches.iter().map(|&[a, b]| [b, a]).collect();
        let mut fresh = Programme::new(rate_hz, programme);
        let mut used = fresh;
        play(Arch::new(), &mut used, &swapped);
        used.reset();
        let expected = play(Arch::Scalar, &mut fresh, &batches);
        let found = play(Arch::new(), &mut used, &batches);
        for (found, expected) in found.into_iter().flatten().zip(expected.into_iter().flatten()) {
            // Sums are in another order.
            let bound = NOTHING + 1e-4 * expected;
            prop_assert!((found - expected).abs() <= bound, "{found}, not {expected}");
        }
    }
}
