//! Sines between their samples, and any signal against the sum of the weights at each place.

use proptest::prelude::*;

use super::*;
use crate::scalar::energy::{double, magnitudes};
use crate::scalar::signals::signal;
use crate::scalar::{filter, peak, tries};

fn sine(hz: f64, rate_hz: f64, frames: usize) -> Vec<f64> {
    (0..frames).map(|n| (std::f64::consts::TAU * hz * n as f64 / rate_hz).sin()).collect()
}

fn worst_db(out: &[f64], expected: impl Fn(usize) -> f64) -> f64 {
    let worst = out.iter().enumerate().map(|(n, x)| (x - expected(n)).abs());
    20.0 * worst.fold(0.0, f64::max).log10()
}

#[test]
fn sines_up_to_the_promised_edge_come_out_120_db_exact() {
    let rate_hz = 48_000.0;
    for step in [1.0 + 40e-6, 0.5, 44_100.0 / 48_000.0] {
        let interpolator = Interpolator::new(step);
        for hz in [100.0, 5_000.0, 15_000.0, interpolator.exact_to(rate_hz) - 1.0] {
            let signal = sine(hz, rate_hz, 4_000);
            let out = filled(Arch::new(), &interpolator, &signal, 300.3, step, 1_000);
            let omega = std::f64::consts::TAU * hz / rate_hz;
            let error = worst_db(&out, |n| (omega * (300.3 + step * n as f64)).sin());
            assert!(error < -120.0, "{hz} Hz, step {step}: {error:.1} dB");
        }
    }
    let mut out = vec![0.0; 1_000];
    for hz in [100.0, 5_000.0, Shifter::exact_to(rate_hz) - 1.0] {
        Shifter::new(0.37).fill(&sine(hz, rate_hz, 4_000), 500, &mut out);
        let omega = std::f64::consts::TAU * hz / rate_hz;
        let error = worst_db(&out, |n| (omega * (500.37 + n as f64)).sin());
        assert!(error < -120.0, "{hz} Hz, shifted: {error:.1} dB");
    }
}

#[test]
fn what_cannot_be_kept_at_a_lower_rate_is_taken_away() {
    let step = 96_000.0 / 48_000.0;
    let interpolator = Interpolator::new(step);
    let signal = sine(30_000.0, 96_000.0, 4_000);
    let out = filled(Arch::new(), &interpolator, &signal, 500.0, step, 1_000);
    assert!(worst_db(&out, |_| 0.0) < -120.0);
}

/// Steps whose tables are tried, all of which lead from place to place of a table; of the last, a table's
/// rows are no whole vectors.
const STEPS: [f64; 4] = [1.0, 0.5, 2.0, 1.0 + 1.0 / 128.0];

/// The signal at a place, each of its samples weighed by the windowed sinc itself.
fn value_at(signal: &[f64], place: f64, half: usize, cutoff: f64) -> f64 {
    let (whole, fraction) = (place.floor(), place - place.floor());
    let first = whole as usize + 1 - half;
    let weights = weights(fraction, half, cutoff);
    signal[first..].iter().zip(weights).map(|(x, weight)| x * weight).sum()
}

fn filled(
    arch: Arch,
    interpolator: &Interpolator,
    signal: &[f64],
    place: f64,
    step: f64,
    count: usize,
) -> Vec<f64> {
    // Every channel is evaluated for itself.
    let signals = [vec![0.0; signal.len()], signal.to_vec()];
    let mut out = vec![vec![f64::NAN; count]; signals.len()];
    Interpolator { arch, ..interpolator.clone() }.fill(&signals, place, step, &mut out);
    out.remove(1)
}

#[test]
fn values_between_samples_are_sums_of_weighted_samples() {
    for step in STEPS {
        let interpolator = Interpolator::new(step);
        let cutoff = if step > 1.0005 { 1.0 / step } else { 1.0 };
        let reach = interpolator.reach();
        // On a place of the table, rounding is all that differs; between two, the line between them is.
        let property =
            (signal(2 * reach + 82..=2 * reach + 82), 0..=PHASES, 0f64..1.0, 1usize..=40);
        let mut runner = proptest::test_runner::TestRunner::new(tries(24));
        let outcome = runner.run(&property, |(samples, phase, between, count)| {
            let samples = double(&samples);
            let loudest = peak::largest(&samples);
            let taps = 2.0 * interpolator.half as f64;
            for (fraction, apart) in [
                (phase as f64 / PHASES as f64, 8.0 * taps * f64::EPSILON * loudest),
                (between, 1e-6 * loudest),
            ] {
                let place = reach as f64 + fraction;
                let found = filled(Arch::new(), &interpolator, &samples, place, step, count);
                let narrow = filled(Arch::Scalar, &interpolator, &samples, place, step, count);
                for (n, (found, narrow)) in found.into_iter().zip(narrow).enumerate() {
                    let place = place + step * n as f64;
                    let expected = value_at(&samples, place, interpolator.half, cutoff);
                    prop_assert!((found - expected).abs() <= apart, "{found}, not {expected}");
                    prop_assert_eq!(found.to_bits(), narrow.to_bits());
                }
            }
            Ok(())
        });
        outcome.unwrap();
    }
}

proptest! {
    #![proptest_config(tries(48))]

    #[test]
    fn a_signal_is_shifted_by_one_filter(
        samples in signal(2 * LONG_REACH + 1..=2 * LONG_REACH + 60), fraction in 0f64..1.0
    ) {
        let shifter = Shifter::new(fraction);
        let samples = double(&samples);
        let count = samples.len() - 2 * LONG_REACH + 1;
        let run = |arch: Arch| {
            let mut out = vec![f64::NAN; count];
            let weights = shifter.weights.clone();
            Shifter { arch, weights }.fill(&samples, LONG_REACH - 1, &mut out);
            out
        };
        let found = run(Arch::new());
        let taps: Vec<f64> = shifter.weights.iter().rev().copied().collect();
        let all = filter::filtered(&samples, &taps);
        let sizes = filter::filtered(&magnitudes(&samples), &magnitudes(&taps));
        for (n, (found, narrow)) in found.iter().zip(run(Arch::Scalar)).enumerate() {
            let at = n + 2 * LONG_REACH - 1;
            // Both add up as many products, in other orders.
            let apart = taps.len() as f64 * f64::EPSILON * sizes[at];
            prop_assert!((found - all[at]).abs() <= apart, "{found}, not {}", all[at]);
            prop_assert_eq!(found.to_bits(), narrow.to_bits());
        }
    }
}
