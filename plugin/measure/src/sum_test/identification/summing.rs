//! Whether the sum is what it must be, as far as a meter tells: each reading against that of the
//! noise alone, beside what any kind of meter shows of a mixer that adds at unity.

use serde::Serialize;

use super::ranking::{Hypothesis, difference_error_db};
use crate::sum_test::schedule::STEPS;
use crate::sum_test::step_names::step_name;
use crate::words::{distance, fixed, list, signed};

/// Steps that tell of the sum, by their indices: the other channel, the same on both, independent
/// noises, one of them inverted, a late copy.
const TELLING: [usize; 5] = [1, 2, 4, 5, 6];
/// A null that is less deep than this, in dB, says that something differs between the channels.
/// Two channels that are 0.9 dB apart leave so much.
const DEEP_DB: f64 = 20.0;

/// A step against the noise alone.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SumCheck {
    /// The step's number.
    pub step: usize,
    /// How far its reading is above that of the noise alone, in dB; none where nothing was shown.
    pub change_db: Option<f64>,
    /// The least and the most that any kind of meter shows, in dB; the null has only a most.
    pub least_db: Option<f64>,
    /// See `least_db`.
    pub most_db: f64,
    /// How far a reading may be off, in dB.
    pub tolerance_db: f64,
    /// Whether it lies within.
    pub agrees: bool,
}

/// What the readings say of the sum.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Summing {
    /// Step by step; none without a reading of the noise alone.
    pub checks: Vec<SumCheck>,
    /// Whether all of them agree; none where there is none.
    pub agrees: Option<bool>,
    /// The answer in words.
    pub sentence: String,
}

/// Judges readings (indices of steps and dB), the null's among them. Hypotheses are those of the
/// steps `of`, in their order.
pub(super) fn judge(
    readings: &[(usize, f64)],
    of: &[usize],
    hypotheses: &[Hypothesis],
    resolution_db: f64,
) -> Summing {
    let shown = |step: usize| readings.iter().find(|known| known.0 == step).map(|known| known.1);
    let Some(alone_db) = shown(0).filter(|db| db.is_finite()) else {
        return Summing {
            checks: Vec::new(),
            agrees: None,
            sentence: "Without a reading of the noise alone nothing is told of the sum.".into(),
        };
    };
    let place = |step: usize| of.iter().position(|other| *other == step);
    let steps = TELLING.into_iter().filter_map(|step| Some((step, shown(step)?, place(step)?)));
    let mut checks: Vec<SumCheck> = steps
        .filter_map(|(step, shown_db, place_of_step)| {
            let places = [place(0)?, place_of_step];
            Some(check(step, shown_db - alone_db, places, hypotheses, resolution_db))
        })
        .collect();
    if let Some(shown_db) = shown(3) {
        checks.push(null(shown_db - alone_db, resolution_db));
    }
    let agrees = checks.iter().all(|check| check.agrees);
    let sentence = sentence(&checks);
    Summing { agrees: (!checks.is_empty()).then_some(agrees), checks, sentence }
}

fn check(
    step: usize,
    change_db: f64,
    [alone, place]: [usize; 2],
    hypotheses: &[Hypothesis],
    resolution_db: f64,
) -> SumCheck {
    let (mut least_db, mut most_db, mut scatter_db) = (f64::INFINITY, f64::NEG_INFINITY, 0.0f64);
    for hypothesis in hypotheses {
        let [alone, here] = [alone, place].map(|place| hypothesis.shows[place]);
        let change_db = here.level_db - alone.level_db;
        (least_db, most_db) = (least_db.min(change_db), most_db.max(change_db));
        scatter_db = scatter_db.max(alone.scatter_db.hypot(here.scatter_db));
    }
    let tolerance_db = difference_error_db(resolution_db, scatter_db);
    let agrees = (least_db - tolerance_db..=most_db + tolerance_db).contains(&change_db);
    let change_db = Some(change_db).filter(|db| db.is_finite());
    SumCheck {
        step: STEPS[step].number,
        change_db,
        least_db: Some(least_db),
        most_db,
        tolerance_db,
        agrees,
    }
}

/// The null against the noise alone.
fn null(change_db: f64, resolution_db: f64) -> SumCheck {
    let tolerance_db = difference_error_db(resolution_db, 0.0);
    SumCheck {
        step: STEPS[3].number,
        change_db: Some(change_db).filter(|db| db.is_finite()),
        least_db: None,
        most_db: -DEEP_DB,
        tolerance_db,
        agrees: change_db <= tolerance_db - DEEP_DB,
    }
}

fn sentence(checks: &[SumCheck]) -> String {
    if checks.is_empty() {
        return "The noise alone tells nothing of the sum: read same and independent too.".into();
    }
    let (agree, disagree): (Vec<&SumCheck>, Vec<&SumCheck>) =
        checks.iter().partition(|check| check.agrees);
    if !disagree.is_empty() {
        let all: Vec<String> = disagree.into_iter().map(disagreement).collect();
        return all.join(" ");
    }
    let same = agree.iter().any(|check| check.step == STEPS[2].number);
    let all: Vec<String> = agree.into_iter().map(agreement).collect();
    let fine = format!("As far as a meter tells, the sum is right: {}.", list(&all));
    match same {
        true => fine,
        false => format!("{fine} Read same too: that is where channels add at unity or do not."),
    }
}

/// A step that is as it must be, for a list.
fn agreement(check: &SumCheck) -> String {
    let name = step_name(check.step);
    match (check.change_db, check.least_db) {
        (None, _) => format!("{name} shows nothing"),
        (Some(db), None) => format!("{name} is {} below alone", distance(db)),
        (Some(db), Some(_)) => format!("{name} is {} dB against alone", signed(db, 1)),
    }
}

/// A step that is not, as a sentence.
fn disagreement(check: &SumCheck) -> String {
    let name = step_name(check.step);
    let Some(change_db) = check.change_db else {
        return format!("{name} shows nothing: a channel is missing, or a reading is wrong.");
    };
    let found = match change_db {
        db if fixed(db, 1) == "0.0" => format!("{name} is as high as alone"),
        db if db < 0.0 => format!("{name} is {} below alone", distance(db)),
        db => format!("{name} is {} above alone", distance(db)),
    };
    let Some(least_db) = check.least_db else { return null_disagreement(&found, change_db) };
    let [least, most] = [least_db, check.most_db].map(|db| signed(db, 1));
    let must = match least == most {
        true => format!("every meter would show {most} dB"),
        false => format!("meters would show {least} to {most} dB"),
    };
    let because = match check.step {
        2 => "the channels differ in level",
        3 if change_db < 0.0 => "the two were exchanged, one channel is inverted or late",
        3 => "the channels do not add at unity",
        _ => "the noises are not independent, the channels do not add at unity",
    };
    format!("{found} where {must}: {because}, or a reading is wrong.")
}

fn null_disagreement(found: &str, change_db: f64) -> String {
    if change_db >= 0.0 {
        return format!(
            "{found} where the two should cancel: neither or both are inverted, or the step was \
             exchanged with another."
        );
    }
    // |1 − g| = 10^(change/20).
    let mismatch_db = -20.0 * (1.0 - 10f64.powf(change_db / 20.0)).log10();
    format!(
        "{found} where the two should cancel: the channels are {} apart in level, or one is late.",
        distance(mismatch_db)
    )
}
