//! A recording between its samples against the weights at each place, with silence beyond its ends.

use proptest::prelude::*;

use super::*;
use crate::scalar::energy::double;
use crate::scalar::signals::signal;
use crate::scalar::{ROUNDING, UNDERFLOW, filter, peak, tries};

/// Between two places of the table, the line falls short of a sinc's bend there, π²/3 a sample² at the
/// most, by an eighth of it a step², for each weight.
const BEND: f64 = 3.3 / 8.0 / (PHASES * PHASES) as f64;

fn weight(t: f64) -> f64 {
    fir::sinc(t) * fir::kaiser(t / REACH as f64, fir::kaiser_beta(ATTENUATION_DB))
}

fn resampled(arch: Arch, signal: &[f32], start: f64, step: f64, frames: usize) -> Vec<f32> {
    arch.dispatch(Resample { signal, start, step, frames })
}

proptest! {
    #![proptest_config(tries(64))]

    #[test]
    fn a_recording_is_read_between_its_samples_and_beyond_its_ends(
        signal in signal(0..=200), start in -80f64..=220.0, step in 0.99f64..=1.01, frames in 0usize..=40
    ) {
        let found = resampled(Arch::new(), &signal, start, step, frames);
        let narrow = resampled(Arch::Scalar, &signal, start, step, frames);
        let samples = double(&signal);
        // Weights are rounded, twice more between two of them, and products and sums are: eight times in a
        // lane, and eight for the lanes. Magnitudes of weights sum up to less than four.
        let roundings = 20.0 * 4.0 * ROUNDING;
        let apart = (roundings + BEND * TAPS as f64) * peak::largest(&samples)
            + 2.0 * TAPS as f64 * UNDERFLOW;
        prop_assert_eq!(found.len(), frames);
        for (n, (found, narrow)) in found.into_iter().zip(narrow).enumerate() {
            let expected = filter::value_at(&samples, start + step * n as f64, REACH, weight);
            let miss = (f64::from(found) - expected).abs();
            prop_assert!(miss <= apart, "{found} at {n}, not {expected}");
            prop_assert_eq!(found.to_bits(), narrow.to_bits());
        }
    }

    #[test]
    fn on_one_clock_samples_stay_what_they_are(
        signal in signal(0..=100), start in -50isize..=120, off in -0.4f64..=0.4, frames in 0usize..=200
    ) {
        let clock = Clock { start: start as f64 + off, stretch: 1.0 };
        for (n, found) in clock.resample(&signal, 0.0, frames).into_iter().enumerate() {
            let index = usize::try_from(start + n as isize).ok();
            let expected = index.and_then(|index| signal.get(index)).copied().unwrap_or(0.0);
            prop_assert_eq!(found.to_bits(), expected.to_bits());
        }
    }
}
