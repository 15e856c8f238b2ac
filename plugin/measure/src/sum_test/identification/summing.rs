//! Whether the sum is what it must be, as far as a meter tells: each reading against that of the
//! noise alone (or, without one, of the same noise on both channels), beside what any kind of meter
//! shows of a mixer that adds at unity.

use serde::Serialize;

use super::ranking::{Hypothesis, difference_error_db};
use crate::sum_test::schedule::STEPS;
use crate::sum_test::step_names::step_name;
use crate::words::{distance, fixed, list, signed};

/// Steps that tell of the sum, by their indices: the other channel, the same on both, independent
/// noises, one of them inverted, a late copy.
const TELLING: [usize; 5] = [1, 2, 4, 5, 6];
const ALONE: usize = 0;
const SAME: usize = 2;
const NULL: usize = 3;
/// A null that is less deep than this under the noise alone, in dB, says that something differs
/// between the channels. Two channels that are 0.9 dB apart leave so much.
const DEEP_DB: f64 = 20.0;
/// The same noise on both channels above the noise alone, in dB.
const TWICE_DB: f64 = 20.0 * std::f64::consts::LOG10_2;

/// A step against another.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SumCheck {
    /// The step's number.
    pub step: usize,
    /// The number of the step that it is compared with.
    pub against: usize,
    /// How far its reading is above that one's, in dB; none where nothing was shown.
    pub change_db: Option<f64>,
    /// The least that any kind of meter shows, in dB; none in the null.
    pub least_db: Option<f64>,
    /// The most.
    pub most_db: f64,
    /// How far the difference may be off by how finely was read, in dB.
    pub reading_db: f64,
    /// How far it may be off in all, by what noise scatters as well, in dB.
    pub tolerance_db: f64,
    /// Whether it lies within; none where noise alone would explain it, and reading does not.
    pub agrees: Option<bool>,
}

/// What the readings say of the sum.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Summing {
    /// Step by step; none without something to compare with.
    pub checks: Vec<SumCheck>,
    /// Whether all of them agree; none where there is none, or where that cannot be told of one.
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
    let place = |step: usize| of.iter().position(|other| *other == step);
    let mut checks = Vec::new();
    if let Some(against) = [ALONE, SAME].into_iter().find(|step| place(*step).is_some()) {
        let pair = |step: usize| Pair {
            against,
            step,
            change_db: shown(step).unwrap_or(f64::NAN) - shown(against).unwrap_or(f64::NAN),
        };
        for step in TELLING.into_iter().filter(|step| *step != against) {
            if let Some(places) = place(against).zip(place(step)) {
                checks.push(check(pair(step), places, hypotheses, resolution_db));
            }
        }
        if shown(NULL).is_some() {
            checks.push(null(pair(NULL), resolution_db));
        }
    }
    let any = |agrees: Option<bool>| checks.iter().any(|check| check.agrees == agrees);
    let agrees = if any(Some(false)) {
        Some(false)
    } else {
        (any(Some(true)) && !any(None)).then_some(true)
    };
    Summing { agrees, sentence: sentence(&checks), checks }
}

/// Two steps by their indices, and how far the reading of the second is above that of the first.
#[derive(Clone, Copy)]
struct Pair {
    against: usize,
    step: usize,
    change_db: f64,
}

fn check(
    pair: Pair,
    (against, place): (usize, usize),
    hypotheses: &[Hypothesis],
    resolution_db: f64,
) -> SumCheck {
    let (mut least_db, mut most_db, mut scatter_db) = (f64::INFINITY, f64::NEG_INFINITY, 0.0f64);
    for hypothesis in hypotheses {
        let [against, here] = [against, place].map(|place| hypothesis.shows[place]);
        let change_db = here.level_db - against.level_db;
        (least_db, most_db) = (least_db.min(change_db), most_db.max(change_db));
        scatter_db = scatter_db.max(against.scatter_db.hypot(here.scatter_db));
    }
    let [reading_db, tolerance_db] =
        [0.0, scatter_db].map(|scatter_db| difference_error_db(resolution_db, scatter_db));
    let within = |off_db: f64| (least_db - off_db..=most_db + off_db).contains(&pair.change_db);
    SumCheck {
        step: STEPS[pair.step].number,
        against: STEPS[pair.against].number,
        change_db: Some(pair.change_db).filter(|db| db.is_finite()),
        least_db: Some(least_db),
        most_db,
        reading_db,
        tolerance_db,
        agrees: match (within(reading_db), within(tolerance_db)) {
            (true, _) => Some(true),
            (false, true) => None,
            (false, false) => Some(false),
        },
    }
}

/// The null.
fn null(pair: Pair, resolution_db: f64) -> SumCheck {
    let reading_db = difference_error_db(resolution_db, 0.0);
    let most_db = if pair.against == SAME { -DEEP_DB - TWICE_DB } else { -DEEP_DB };
    SumCheck {
        step: STEPS[NULL].number,
        against: STEPS[pair.against].number,
        change_db: Some(pair.change_db).filter(|db| db.is_finite()),
        least_db: None,
        most_db,
        reading_db,
        tolerance_db: reading_db,
        agrees: Some(pair.change_db <= most_db + reading_db),
    }
}

fn sentence(checks: &[SumCheck]) -> String {
    let Some(first) = checks.first() else {
        return "These steps tell nothing of the sum: read alone and same too.".into();
    };
    let disagree: Vec<String> =
        checks.iter().filter(|check| check.agrees != Some(true)).map(disagreement).collect();
    if !disagree.is_empty() {
        return disagree.join(" ");
    }
    let all: Vec<String> = checks.iter().map(agreement).collect();
    let against = step_name(first.against);
    let told = format!("against {against}, {}", list(&all));
    let same = STEPS[SAME].number;
    if checks.iter().any(|check| check.step == same) {
        return format!("As far as a meter tells, the sum is right: {told}.");
    }
    let missing = if first.against == same { "alone" } else { "same" };
    format!(
        "Nothing speaks against the sum: {told}. Whether the channels add at unity is not told \
         without a reading of {missing}."
    )
}

/// A step that is as it must be, for a list.
fn agreement(check: &SumCheck) -> String {
    let name = step_name(check.step);
    match check.change_db {
        None => format!("{name} shows nothing"),
        Some(db) => format!("{name} is {} dB", signed(db, 1)),
    }
}

/// A step that is not, as a sentence.
fn disagreement(check: &SumCheck) -> String {
    let (name, against) = (step_name(check.step), step_name(check.against));
    let change_db = check.change_db.unwrap_or(f64::NEG_INFINITY);
    let found = match change_db {
        db if fixed(db, 1) == "0.0" => format!("{name} is as high as {against}"),
        db if db < 0.0 => format!("{name} is {} below {against}", distance(db)),
        db => format!("{name} is {} above {against}", distance(db)),
    };
    let Some(least_db) = check.least_db else { return null_disagreement(check, &found, change_db) };
    let [least, most] = [least_db, check.most_db].map(|db| signed(db, 1));
    let must = match least == most {
        true => format!("every meter would show {most}"),
        false => format!("meters would show {least} to {most}"),
    };
    let because = match check.step {
        _ if check.agrees.is_none() => {
            return format!(
                "{found} where {must}: reading does not explain that, though peaks of noise that \
                 are held for different times may. Read both again, each for as long."
            );
        }
        2 => "the channels differ in level",
        3 if change_db < 0.0 => "the two steps were exchanged, one channel is inverted or late",
        3 => "the channels do not add at unity",
        _ => "the noises are not independent, the channels do not add at unity",
    };
    format!("{found} where {must}: {because}, or a reading is wrong.")
}

fn null_disagreement(check: &SumCheck, found: &str, change_db: f64) -> String {
    if change_db >= 0.0 {
        return format!(
            "{found} where the two should cancel: neither or both are inverted, or steps were \
             exchanged."
        );
    }
    let left = 10f64.powf(change_db / 20.0);
    // Of a channel that is lower by the factor g, 1 − g is left; the same on both is 1 + g.
    let ratio =
        if check.against == STEPS[SAME].number { (1.0 - left) / (1.0 + left) } else { 1.0 - left };
    format!(
        "{found} where the two should cancel: the channels are {} apart in level, or one is late.",
        distance(20.0 * ratio.log10())
    )
}
