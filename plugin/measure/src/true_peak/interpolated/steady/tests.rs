//! The bound against the formula that it comes from, and against the waveform.

use std::f64::consts::{PI, TAU};

use super::super::STEADY_RISE;
use super::*;
use crate::fir;

/// Weights of the point `share` of a sample behind the sample `reach − 1`.
fn weights(reach: usize, share: f64) -> Vec<f64> {
    let beta = fir::kaiser_beta(super::super::ATTENUATION_DB);
    let weight = |k: usize| {
        let t = k as f64 - (reach as f64 - 1.0) - share;
        fir::sinc(t) * fir::kaiser(t / reach as f64, beta)
    };
    let weights: Vec<f64> = (0..2 * reach).map(weight).collect();
    let sum: f64 = weights.iter().sum();
    weights.iter().map(|weight| weight / sum).collect()
}

/// How much of the largest r in reach a point can be off by: the sum over each r of the magnitude of what
/// it brings to all samples behind it.
fn gain(reach: usize, share: f64, omega: f64) -> f64 {
    let weights = weights(reach, share);
    let brought = |m: usize| (omega * m as f64).sin() / omega.sin();
    let of_side = |weights: Vec<f64>| -> f64 {
        let of_r = |j: usize| -> f64 {
            weights[j..].iter().zip(1..).map(|(weight, m)| weight * brought(m)).sum()
        };
        (0..weights.len()).map(|j| of_r(j).abs()).sum()
    };
    of_side(weights[reach + 1..].to_vec())
        + of_side(weights[..reach - 1].iter().rev().copied().collect())
}

#[test]
fn a_point_is_off_by_less_than_the_largest_miss_up_to_a_quarter_of_the_rate() {
    for reach in [8, 16, 24] {
        for eighth in 0..=8 {
            for step in 1..=100 {
                let omega = PI / 2.0 * f64::from(step) / 100.0;
                let gain = gain(reach, f64::from(eighth) / 8.0, omega);
                assert!(gain < 1.0, "{gain} with {reach} taps a side, {eighth}/8, ω = {omega}");
            }
        }
    }
}

/// What is bounded in a batch.
struct Bounded {
    bound: f32,
    /// The largest magnitude of the signal there, at eight places a sample.
    reached: f64,
}

/// Batches of a signal, each with 48 samples before it, those behind the first.
fn bounds(signal: impl Fn(f64) -> f64) -> Vec<Bounded> {
    let mut steady = Steady::UNKNOWN;
    let bound = |batch: usize| {
        let first = batch * BATCH_FRAMES;
        let samples: Vec<f32> =
            (first..first + 48 + BATCH_FRAMES).map(|n| signal(n as f64) as f32).collect();
        let largest = samples.iter().fold(0.0, |held, x| f32::max(held, x.abs()));
        let bound = steady.bound(&samples, 23, largest);
        steady.improve(&samples);
        let places = (0..=8 * (BATCH_FRAMES + 1)).map(|eighth| eighth as f64 / 8.0);
        let reached = places.map(|place| signal((first + 23) as f64 + place).abs());
        Bounded { bound, reached: reached.fold(0.0, f64::max) }
    };
    (0..40).map(bound).skip(4).collect()
}

#[test]
fn a_tone_is_bounded_by_its_amplitude_and_anything_else_by_nothing() {
    for share in [0.0005, 0.003, 0.0104, 0.11, 0.2083, 0.2499] {
        let tone = |n: f64| 0.7 * (TAU * share * n + 0.3).sin();
        let batches = bounds(tone);
        let known = batches.iter().filter(|batch| batch.bound.is_finite());
        assert!(known.clone().count() > 18, "seldom known at {share} of the rate");
        for Bounded { bound, reached } in known {
            let bound = f64::from(*bound);
            assert!(bound >= reached * (1.0 - 1e-6), "{bound} below {reached} at {share}");
            assert!(
                bound <= 0.7 * (1.0 + f64::from(STEADY_RISE)),
                "{bound} at {share} of the rate"
            );
        }
    }
    let two = |n: f64| 0.5 * (TAU * 0.0104 * n).sin() + 0.2 * (TAU * 0.05 * n).sin();
    assert!(bounds(two).iter().all(|batch| batch.bound == f32::INFINITY));
}

/// A tone with a little of another is bounded by no less than both together reach.
#[test]
fn what_stands_beside_a_tone_raises_its_bound() {
    let both = |n: f64| (TAU * 0.0104 * n).cos() + 2e-4 * (TAU * 0.41 * n).cos();
    for Bounded { bound, reached } in bounds(both) {
        assert!(f64::from(bound) >= reached * (1.0 - 1e-6), "{bound} below {reached}");
    }
}
