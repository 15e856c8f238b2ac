//! Programme peak meters against their rule, a sample and a meter at a time.

use proptest::prelude::*;

use super::*;
use crate::scalar::energy::double;
use crate::scalar::signals::{block_lengths, cut, signal};
use crate::scalar::tries;

const RATES_HZ: [f64; 3] = [44_100.0, 48_000.0, 192_000.0];
/// What is dropped as decayed.
const SETTLED: f64 = 1e-30;

/// What a meter of such branches shows after the samples, and at most, before it is calibrated.
fn shown(samples: &[f64], branches: [Branch; 2], rate_hz: f64) -> [f64; 2] {
    let mut voltages = [0.0; 2];
    let (mut now, mut highest) = (0.0, 0.0);
    for sample in samples {
        now = 0.0;
        for (voltage, (weight, attack_s, release_s)) in voltages.iter_mut().zip(branches) {
            if sample.abs() > *voltage {
                let share = 1.0 - (-1.0 / (rate_hz * attack_s)).exp();
                *voltage += share * (sample.abs() - *voltage);
            } else {
                *voltage *= (-1.0 / (rate_hz * release_s)).exp();
            }
            now += weight * *voltage;
        }
        highest = f64::max(highest, now);
    }
    [now, highest]
}

fn meters(rate_hz: f64) -> [QuasiPeak; 2] {
    [ProgrammeType::I, ProgrammeType::II].map(|programme| QuasiPeak::new(rate_hz, programme))
}

fn play(arch: Arch, meters: &mut [QuasiPeak; 2], samples: &[f32], lengths: &[usize]) {
    for range in cut(samples.len(), lengths) {
        let samples = &samples[range];
        arch.dispatch(Take { meters: meters.each_mut(), samples });
    }
}

proptest! {
    #![proptest_config(tries(64))]

    #[test]
    fn meters_side_by_side_follow_their_rule(
        rate_hz in prop::sample::select(&RATES_HZ[..]),
        samples in signal(0..=1_000),
        lengths in block_lengths(200),
    ) {
        let mut meters = meters(rate_hz);
        play(Arch::new(), &mut meters, &samples, &lengths);
        let samples = double(&samples);
        for (meter, programme) in meters.iter().zip([ProgrammeType::I, ProgrammeType::II]) {
            let [now, highest] = shown(&samples, programme.branches(), rate_hz);
            // No operation differs, but for what is dropped.
            prop_assert!((meter.now - now).abs() <= SETTLED, "{} now, not {now}", meter.now);
            let miss = (meter.highest - highest).abs();
            prop_assert!(miss <= SETTLED, "{} at most, not {highest}", meter.highest);
        }
    }

    #[test]
    fn nothing_is_left_after_a_reset_and_every_processor_shows_the_same(
        rate_hz in prop::sample::select(&RATES_HZ[..]),
        samples in signal(0..=600),
        before in signal(0..=600),
        lengths in block_lengths(200),
    ) {
        let [mut fresh, mut used] = [meters(rate_hz), meters(rate_hz)];
        play(Arch::new(), &mut used, &before, &lengths);
        used.iter_mut().for_each(QuasiPeak::reset);
        play(Arch::Scalar, &mut fresh, &samples, &lengths);
        play(Arch::new(), &mut used, &samples, &lengths);
        let state = |meters: [QuasiPeak; 2]| {
            meters.map(|meter| {
                let [first, second] = meter.followers.map(|follower| follower.value);
                [first, second, meter.now, meter.highest].map(f64::to_bits)
            })
        };
        prop_assert_eq!(state(fresh), state(used));
    }
}
