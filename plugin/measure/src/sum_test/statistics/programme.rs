//! How far a programme meter's highest reading of a noise scatters.
//!
//! A follower rests where charge and fall balance. Near there it obeys a linear equation driven by
//! the noise's exceedances (Campbell's theorem): its variance is that of the charge a second over
//! twice the rate at which it returns to rest. The highest of the independent values that fit into a
//! step scatters by Gumbel's law.

use std::f64::consts::PI;

use super::{DB_PER_AMPLITUDE, Shape, gumbel_deviation};
use crate::detector::{Branch, ProgrammeType};

/// Points a side of the grid that stands for a distribution.
const GRID: usize = 64;

/// Standard error, in decibels, of the highest reading over `length_s`, in which lie `samples`
/// independent samples.
pub(super) fn error_db(
    shape: Shape,
    samples: f64,
    length_s: f64,
    programme_type: ProgrammeType,
) -> f64 {
    let magnitudes = magnitudes(shape);
    let rate = samples / length_s;
    let (mut rest, mut deviation, mut fastest) = (0.0, 0.0, 0.0f64);
    for branch in programme_type.branches() {
        let (branch_rest, branch_deviation, return_rate) = at_rest(&magnitudes, branch, rate);
        rest += branch.0 * branch_rest;
        deviation += branch.0 * branch_deviation;
        if branch.0 > 0.0 {
            fastest = fastest.max(return_rate);
        }
    }
    let values = (fastest * length_s).max(2.0);
    DB_PER_AMPLITUDE * deviation / rest * gumbel_deviation() / (2.0 * values.ln()).sqrt()
}

/// Where a follower rests, how it scatters there, and how fast it returns (per second).
fn at_rest(magnitudes: &[f64], (_, attack_s, release_s): Branch, rate: f64) -> (f64, f64, f64) {
    let count = magnitudes.len() as f64;
    let excess = |rest: f64, power: i32| {
        magnitudes.iter().map(|x| (x - rest).max(0.0).powi(power)).sum::<f64>() / count
    };
    let (mut low, mut high) = (0.0, magnitudes.iter().copied().fold(0.0, f64::max));
    for _ in 0..50 {
        let middle = (low + high) / 2.0;
        if excess(middle, 1) / attack_s > middle / release_s { low = middle } else { high = middle }
    }
    let above = magnitudes.iter().filter(|&&x| x > low).count() as f64 / count;
    let return_rate = above / attack_s + 1.0 / release_s;
    let charge_variance = excess(low, 2) / (rate * attack_s * attack_s);
    (low, (charge_variance / (2.0 * return_rate)).sqrt(), return_rate)
}

/// Magnitudes that stand for a distribution, all equally likely.
fn magnitudes(shape: Shape) -> Vec<f64> {
    let share = |k: usize| (k as f64 + 0.5) / GRID as f64;
    let pairs = || (0..GRID).flat_map(|i| (0..GRID).map(move |k| (i, k)));
    match shape {
        Shape::Certain => vec![1.0],
        Shape::Uniform => {
            (0..GRID * GRID).map(|k| (k as f64 + 0.5) / (GRID * GRID) as f64).collect()
        }
        Shape::TwoUniform => {
            pairs().map(|(i, k)| (2.0 * share(i) - 1.0 + 2.0 * share(k) - 1.0).abs()).collect()
        }
        Shape::UniformAndTone => pairs()
            .map(|(i, k)| (2.0 * share(i) - 1.0 + (PI * (share(k) - 0.5)).sin()).abs())
            .collect(),
        // Box and Muller's transform of a grid instead of noise.
        Shape::Gaussian | Shape::Pink => pairs()
            .map(|(i, k)| ((-2.0 * share(i).ln()).sqrt() * (PI / 2.0 * share(k)).cos()).abs())
            .collect(),
    }
}
