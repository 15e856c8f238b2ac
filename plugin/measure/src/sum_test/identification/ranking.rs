//! The arithmetic: how well each hypothesis explains readings, and which of them the readings
//! exclude.
//!
//! A hypothesis says what is shown in each step, and how far that scatters; how the meter's scale is
//! aligned is not known, so one offset is free. Errors are taken as normal: least squares with known
//! variances, the offset integrated out (D. S. Sivia, "Data Analysis: A Bayesian Tutorial"). A
//! hypothesis is excluded by itself, where its squares are more than such errors leave in 99.5 % of
//! cases (χ² with one degree of freedom less than there are readings), or by a better one, going by
//! the ratio of their likelihoods.

use crate::detector::{Detector, MeterKind};
use crate::sum_test::pattern::NoiseKind;
use crate::sum_test::three_noises::Shows;

/// Two meters of one kind differ by so much, in dB: ballistics and frequency response within their
/// standards' tolerances.
const MAKE_DB: f64 = 0.1;
/// The same of true peaks of all that is stored: of noise up to half the rate they depend on how the
/// interpolation ends there. Fourfold ones of usual lengths were seen to differ by up to 0.9 dB.
const MAKE_OF_TRUE_PEAKS_DB: f64 = 0.6;
/// The same within the audible band: fourfold interpolations by 8 to 32 samples, of flat and of early
/// ends, were seen to differ from an ideal one by 0.16 to 0.33 dB from step to step.
const MAKE_OF_AUDIBLE_TRUE_PEAKS_DB: f64 = 0.3;
/// A hypothesis whose weighted square misfit exceeds the best one's by more than this is excluded,
/// where what is shown is certain. Errors make that of the true one in 0.5 % of cases at most: they
/// are beyond √6.63 = 2.57 deviations as often.
const EXCLUDED: f64 = 6.63;
/// The same where it scatters, more with one hypothesis than with another: a likelihood 100 times
/// less, which errors make of the true one in 1 % of cases at most, whatever their distributions.
const EXCLUDED_SCATTERED: f64 = 9.21;
/// The same share of cases, in deviations of a normal distribution.
const DEVIATIONS: f64 = 2.575_8;
/// A best model that misses by more than this and twice the readings' error explains nothing: the
/// tolerance that the standards give a meter's burst readings at their tightest, in dB.
const MOST_MISFIT_DB: f64 = 0.5;

/// What one kind of meter would show.
pub(super) struct Hypothesis {
    pub model: MeterKind,
    /// The noise that was played, where that is a part of it.
    pub noise: Option<NoiseKind>,
    /// For each reading, in its order.
    pub shows: Vec<Shows>,
}

impl Hypothesis {
    /// The same meter where it holds its highest and is never cleared; readings in the order played.
    pub(super) fn held(&self) -> Self {
        let mut highest = Shows::certain(f64::NEG_INFINITY);
        let hold = |shows: &Shows| {
            if shows.level_db > highest.level_db {
                highest = *shows;
            }
            highest
        };
        Self { model: self.model, noise: self.noise, shows: self.shows.iter().map(hold).collect() }
    }
}

/// How one of them stands.
pub(super) struct Standing {
    pub model: MeterKind,
    pub noise: Option<NoiseKind>,
    /// What the meter's scale adds, in dB.
    pub offset_db: f64,
    /// Root mean square of what is left, in dB.
    pub misfit_db: f64,
    /// Of all hypotheses.
    pub probability: f64,
    /// Whether the readings leave it possible.
    pub is_possible: bool,
    /// Weighted squares of what is left.
    square: f64,
    /// Twice the negative logarithm of its likelihood, but for a constant.
    score: f64,
}

/// All of them, the likeliest first.
pub(super) struct Ranking {
    pub standings: Vec<Standing>,
    /// Whether one of them explains the readings within their error.
    pub fits: bool,
    /// Whether one of them comes as near as meters of a kind come to each other.
    pub explained: bool,
}

impl Ranking {
    /// Ranks hypotheses by readings that are exact to a standard deviation of `error_db`.
    pub(super) fn new(hypotheses: &[Hypothesis], shown_db: &[f64], resolution_db: f64) -> Self {
        let error_db = error_db(resolution_db);
        let stand = |hypothesis: &Hypothesis| standing(hypothesis, shown_db, error_db);
        let mut standings: Vec<Standing> = hypotheses.iter().map(stand).collect();
        standings.sort_by(|x, y| x.score.total_cmp(&y.score));
        let freedom = shown_db.len() as f64 - 1.0;
        let most = square_quantile(freedom);
        let fits = standings.iter().any(|standing| standing.square <= most);
        let best = standings.first().map_or(0.0, |best| best.score);
        // Where none fits, the nearest meter differs from its model by more than makes usually do,
        // and so may any other: what is left measures by how much.
        let nearest = standings.first().map_or(most, |best| best.square);
        let scale = if fits { 1.0 } else { (nearest / freedom).max(1.0) };
        let certain = |shows: &Shows| shows.scatter_db == 0.0;
        let all_certain = hypotheses.iter().flat_map(|of| &of.shows).all(certain);
        let excluded = if all_certain { EXCLUDED } else { EXCLUDED_SCATTERED };
        // Measured by the same, so that what is likely does not contradict what is possible.
        let likelihood = |score: f64| ((best - score) / (2.0 * scale)).exp();
        let total: f64 = standings.iter().map(|standing| likelihood(standing.score)).sum();
        // What is excluded by itself excludes no other.
        let nearest_score = standings.iter().find(|s| !fits || s.square <= most);
        let nearest_score = nearest_score.map_or(best, |standing| standing.score);
        for standing in &mut standings {
            standing.probability = likelihood(standing.score) / total;
            standing.is_possible = (!fits || standing.square <= most)
                && (standing.score - nearest_score) / scale <= excluded;
        }
        let misfit_db = standings.first().map_or(f64::INFINITY, |best| best.misfit_db);
        let explained = fits || misfit_db <= MOST_MISFIT_DB + 2.0 * error_db.hypot(MAKE_DB);
        Self { standings, fits, explained }
    }

    /// The models that are possible, the likeliest first, each once.
    pub(super) fn possible(&self) -> Vec<MeterKind> {
        let mut models = Vec::new();
        for standing in self.standings.iter().filter(|standing| standing.is_possible) {
            if !models.contains(&standing.model) {
                models.push(standing.model);
            }
        }
        models
    }
}

/// By how much two meters of a kind differ, in dB.
fn make_db(model: MeterKind) -> f64 {
    match model {
        MeterKind { detector: Detector::TruePeak, audible: false } => MAKE_OF_TRUE_PEAKS_DB,
        MeterKind { detector: Detector::TruePeak, audible: true } => MAKE_OF_AUDIBLE_TRUE_PEAKS_DB,
        _ => MAKE_DB,
    }
}

/// Standard deviation of a reading taken in steps of `resolution_db`, in dB: rounding is uniform over
/// one step, and the hand and eye before it are given as much again.
pub(super) fn error_db(resolution_db: f64) -> f64 {
    resolution_db / 6f64.sqrt()
}

/// How far the difference of two readings may be off, in dB, in 99 % of cases; `scatter_db` is that
/// of what was shown.
pub(super) fn difference_error_db(resolution_db: f64, scatter_db: f64) -> f64 {
    DEVIATIONS * (2.0 * error_db(resolution_db).powi(2) + scatter_db * scatter_db).sqrt()
}

fn standing(hypothesis: &Hypothesis, shown_db: &[f64], error_db: f64) -> Standing {
    let readings = || hypothesis.shows.iter().zip(shown_db);
    let within =
        |make_db: f64, shows: &Shows| error_db.powi(2) + make_db.powi(2) + shows.scatter_db.powi(2);
    let variance = |shows: &Shows| within(make_db(hypothesis.model), shows);
    let weights: f64 = readings().map(|(shows, _)| variance(shows).recip()).sum();
    let offset_db =
        readings().map(|(shows, shown)| (shown - shows.level_db) / variance(shows)).sum::<f64>()
            / weights;
    let left = |(shows, shown): (&Shows, &f64)| shown - shows.level_db - offset_db;
    let square: f64 = readings().map(|reading| left(reading).powi(2) / variance(reading.0)).sum();
    // That makes differ more with one kind than with another does not make it less likely.
    let spread: f64 = readings().map(|(shows, _)| within(MAKE_DB, shows).ln()).sum();
    let usual_weights: f64 = readings().map(|(shows, _)| within(MAKE_DB, shows).recip()).sum();
    let mean = readings().map(|reading| left(reading).powi(2)).sum::<f64>() / shown_db.len() as f64;
    Standing {
        model: hypothesis.model,
        noise: hypothesis.noise,
        offset_db,
        misfit_db: mean.sqrt(),
        probability: 0.0,
        is_possible: false,
        square,
        score: square + spread + usual_weights.ln(),
    }
}

/// What χ² with so many degrees of freedom stays below in 99.5 % of cases (E. B. Wilson and M. M.
/// Hilferty, "The Distribution of Chi-Square", 1931).
fn square_quantile(freedom: f64) -> f64 {
    let part = 2.0 / (9.0 * freedom);
    freedom * (1.0 - part + DEVIATIONS * part.sqrt()).powi(3)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_quantile_is_that_of_the_tables() {
        for (freedom, exact) in [(1.0, 7.879), (2.0, 10.597), (5.0, 16.750), (14.0, 31.319)] {
            let found = square_quantile(freedom);
            assert!((found / exact - 1.0).abs() < 0.015, "{freedom}: {found}");
        }
    }
}
