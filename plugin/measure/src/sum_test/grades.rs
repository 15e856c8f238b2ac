//! What is graded, from the evidence: the channels' levels and delays, what a soft bend takes, and the
//! noise floor.

use std::f64::consts::{SQRT_2, TAU};

use super::faults::{Evidence, FloorKind};
use super::grade::{DelayLimit, Grade, GradeCode, Limits};
use super::path::{CLOCKS_FRAMES, GAIN_RANGE_HZ, Path};
use super::schedule::Form;
use crate::words::{fixed, frequency, plain};

/// Two-sided 95 % of a normal distribution.
const COVERAGE: f64 = 1.96;
/// 20·log10(e): decibels of a small relative error of an amplitude.
const DB_PER_AMPLITUDE: f64 = 8.685_889_638;
/// What rounds to nothing with two decimals is not told.
const LEAST_SHOWN: f64 = 0.005;
/// A floor this far below the reference is nobody's concern, in dB.
const QUIET_DB: f64 = -75.0;

/// Everything that is graded, in the order of [`GradeCode`].
pub(super) fn find(evidence: &Evidence) -> Vec<Grade> {
    let mut grades = Vec::new();
    if let Some(relative) = evidence.paths.relative.as_ref().filter(|_| evidence.is_one_bus()) {
        grades.push(level(evidence, relative));
        grades.push(delay(evidence, relative));
    }
    grades.extend(bend(evidence).into_iter().flatten());
    grades.extend(noise_floor(evidence));
    grades
}

/// How far a difference of two gains may be off, in dB: what noise makes of it; and where the feeds
/// were not heard alone, as much as a bend takes from a sum.
fn level_error_db(evidence: &Evidence) -> f64 {
    let is_alone = evidence.holds(0) && evidence.holds(1);
    let bent_db =
        evidence.soft_bend().filter(|_| !is_alone).map_or(0.0, |(_, loss_db)| loss_db.abs());
    COVERAGE * SQRT_2 * evidence.paths.gain_error_db + evidence.paths.following_error_db + bent_db
}

fn level(evidence: &Evidence, relative: &Path) -> Grade {
    let value = 20.0 * relative.gain.abs().log10();
    let uncertainty = level_error_db(evidence);
    let told = value.abs() > uncertainty.max(LEAST_SHOWN);
    let shown = fixed(value.abs(), 2);
    let sentence = if told {
        let what = if value > 0.0 { "higher" } else { "lower" };
        if evidence.is_uneven() {
            format!(
                "Feed 2's channel is {shown} dB {what} than feed 1's over all, by more or less from \
                 frequency to frequency: no fader makes them alike."
            )
        } else {
            format!("Feed 2's channel is {shown} dB {what} than feed 1's.")
        }
    } else {
        format!("The channels' levels are the same within {} dB.", fixed(uncertainty.max(0.01), 2))
    };
    let limit = evidence.limits.level_db;
    let in_words = format!("{} dB", plain(limit));
    let turn = if value > 0.0 { "Lower" } else { "Raise" };
    let is_worth_it =
        told && value.abs() > limit.min(Limits::DIGITAL.level_db) && !evidence.is_uneven();
    let grade = Grade {
        action: is_worth_it.then(|| format!("{turn} feed 2's channel by {shown} dB.")),
        code: GradeCode::LevelDifference,
        value,
        unit: "dB",
        uncertainty,
        limit: Some(limit),
        within: value.abs() <= limit + uncertainty,
        told,
        sentence,
    };
    outside(grade, evidence.limits, in_words, Limits::ANALOGUE.level_db, "1 dB")
}

fn delay(evidence: &Evidence, relative: &Path) -> Grade {
    let rate_hz = evidence.schedule.rate_hz();
    let value = relative.delay_frames;
    // A relative error ε of every bin turns its phase by as much; a delay turns it by ω, whose mean
    // square over the range of gains is a third of the highest's.
    let turn = TAU * GAIN_RANGE_HZ.1 / rate_hz / 3f64.sqrt();
    let uncertainty = CLOCKS_FRAMES + level_error_db(evidence) / DB_PER_AMPLITUDE / turn;
    let told = value.abs() > uncertainty.max(LEAST_SHOWN);
    let shown =
        format!("{} µs ({} samples)", fixed(1e6 * value.abs() / rate_hz, 1), fixed(value.abs(), 2));
    let sentence = if told {
        let what = if value > 0.0 { "later" } else { "earlier" };
        format!("Feed 2's channel is {shown} {what} than feed 1's.")
    } else {
        let within = fixed(uncertainty.max(0.01), 2);
        format!("The channels come at the same time within {within} samples.")
    };
    let limit = evidence.limits.delay.samples(rate_hz);
    let in_words = match evidence.limits.delay {
        DelayLimit::Samples(samples) => format!("{} samples", plain(samples)),
        DelayLimit::Seconds(seconds) => format!("{} µs", plain((1e9 * seconds).round() / 1e3)),
    };
    let channel = if value > 0.0 { 1 } else { 2 };
    let digital = Limits::DIGITAL.delay.samples(rate_hz);
    let is_worth_it = told && value.abs() > limit.min(digital) && !evidence.is_uneven();
    let grade = Grade {
        action: is_worth_it.then(|| format!("Delay feed {channel}'s channel by {shown}.")),
        code: GradeCode::DelayDifference,
        value,
        unit: "samples",
        uncertainty,
        limit: Some(limit),
        within: value.abs() <= limit + uncertainty,
        told,
        sentence,
    };
    let analogue = Limits::ANALOGUE.delay.samples(rate_hz);
    outside(grade, evidence.limits, in_words, analogue, "100 µs")
}

/// The grade with what it is outside of, if it is; where the digital limits are too narrow, whether
/// the analogue ones are wide enough.
fn outside(
    mut grade: Grade,
    limits: &Limits,
    limit: String,
    analogue: f64,
    analogue_in_words: &str,
) -> Grade {
    if grade.within {
        return grade;
    }
    let name = if limits.name == "own" { String::new() } else { format!("{} ", limits.name) };
    grade.sentence.push_str(&format!(" That is outside the {name}limit of {limit}"));
    if *limits == Limits::DIGITAL && grade.value.abs() <= analogue {
        grade.sentence.push_str(&format!(", within the analogue one of {analogue_in_words}"));
    }
    grade.sentence.push('.');
    grade
}

/// Distortion, and what a sum loses by it.
fn bend(evidence: &Evidence) -> Option<[Grade; 2]> {
    let (bend, loss_db) = evidence.soft_bend()?;
    let percent = 100.0 * bend.third_harmonic.abs();
    let distortion = Grade {
        code: GradeCode::Distortion,
        value: percent,
        unit: "%",
        uncertainty: COVERAGE * 100.0 * bend.error,
        limit: None,
        within: true,
        told: true,
        sentence: format!(
            "Loud sounds are bent softly: a sine as high as both feeds' peaks together would come out \
             with {} % of third harmonic.",
            fixed(percent, 2)
        ),
        action: None,
    };
    let limit = evidence.limits.level_db;
    let uncertainty = level_error_db(evidence);
    let within = loss_db.abs() <= limit + uncertainty;
    let loss = Grade {
        code: GradeCode::SumLoss,
        value: loss_db,
        unit: "dB",
        uncertainty,
        limit: Some(limit),
        within,
        told: true,
        sentence: format!(
            "By that, loud sums come out up to {} dB {} than {}.",
            fixed(loss_db.abs(), 2),
            if loss_db < 0.0 { "higher" } else { "lower" },
            if evidence.schedule.form() == Form::Short {
                "the steps of lower level make expect"
            } else {
                "what the channels make alone"
            }
        ),
        action: (!within).then(|| "Play lower: a sum is then less off.".to_owned()),
    };
    let in_words = format!("{} dB", plain(limit));
    let loss = outside(loss, evidence.limits, in_words, Limits::ANALOGUE.level_db, "1 dB");
    Some([distortion, loss])
}

fn noise_floor(evidence: &Evidence) -> Option<Grade> {
    let floor = evidence.floor?;
    let what = match floor.kind {
        FloorKind::Hum(hum_hz) => format!("most of it hum of {}", frequency(hum_hz)),
        FloorKind::Dc => "most of it DC".to_owned(),
        FloorKind::Noise => "noise".to_owned(),
    };
    Some(Grade {
        code: GradeCode::NoiseFloor,
        value: floor.below_db,
        unit: "dB",
        uncertainty: 0.0,
        limit: None,
        within: true,
        told: floor.below_db > QUIET_DB,
        sentence: format!(
            "The silence between the steps holds {} dB less than step {}: {what}.",
            fixed(-floor.below_db, 1),
            floor.reference_step
        ),
        action: None,
    })
}
