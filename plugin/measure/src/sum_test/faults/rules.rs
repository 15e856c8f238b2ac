//! One function a fault. The order of the list does not matter.

mod null;

pub(super) use null::is_uneven;

use std::collections::BTreeMap;

use super::{Evidence, SUM_STEPS, SlipFound};
use crate::detector::Detector;
use crate::sum_test::fault::{Fault, FaultCode};
use crate::sum_test::path::{MISSING_RATIO, SumFit, Unsteadiness};
use crate::sum_test::schedule::Form;
use crate::sum_test::statistics::{mismatch_tolerance_db, tolerance_db};
use crate::words::{counted, fixed, frequency, list, moment, signed};

pub(super) type Rule = fn(&Evidence) -> Option<Fault>;

pub(super) const RULES: [Rule; 9] = [
    missing_channel,
    not_summed,
    polarity_turned,
    clipping,
    sum_ratio,
    modulation,
    null::null_depth,
    recorder_slip,
    band_limit,
];

/// Standard errors of a fit, beyond the tolerance, that make a fault certain: one false one in
/// thirty thousand.
const CERTAIN: f64 = 4.0;
/// Steps whose figures differ by less, in dB, show the same fault; the first of them is named.
const SAME_DB: f64 = 0.02;
/// A gain that moves by more than this, as a standard deviation in dB, moves.
const MOVING_DB: f64 = 0.1;
/// And by more than so many times what noise does: the errors are estimates.
const SURE_MOVING: f64 = 2.0;
/// A response that holds up to this share of the rate holds to the end: converters need the rest.
const FULL_BAND_SHARE: f64 = 0.45;

fn fault<const N: usize>(
    code: FaultCode,
    sentence: String,
    numbers: [(&'static str, f64); N],
) -> Option<Fault> {
    Some(Fault { code, sentence, action: code.action(), numbers: BTreeMap::from(numbers) })
}

/// What the recording's noise can add to the difference of two fitted gains, in dB.
fn noise_margin_db(evidence: &Evidence) -> f64 {
    let paths = evidence.paths;
    CERTAIN * std::f64::consts::SQRT_2 * paths.gain_error_db + paths.following_error_db
}

fn db(ratio: f64) -> f64 {
    20.0 * ratio.abs().log10()
}

fn missing_channel(evidence: &Evidence) -> Option<Fault> {
    let (missing, present) = match &evidence.paths.feeds {
        [None, Some(_)] => (1.0, 2.0),
        [Some(_), None] => (2.0, 1.0),
        _ => return None,
    };
    // A feed that no step tells of is not missing from the sum.
    (evidence.paths.is_known == [true; 2]).then_some(())?;
    fault(
        FaultCode::MissingChannel,
        format!(
            "Feed {missing} is missing from the sum: its channel is off, is not sent to this bus, \
             or carries feed {present} as well."
        ),
        [("feed", missing)],
    )
}

pub(super) fn not_summed(evidence: &Evidence) -> Option<Fault> {
    let [left, right] = evidence.halves?;
    let alone = |gains: [f64; 2]| gains[1] < MISSING_RATIO * gains[0];
    let turned = |gains: [f64; 2]| [gains[1], gains[0]];
    // An empty side of the recording says nothing.
    let most = left[0].max(left[1]).max(right[0]).max(right[1]);
    if [left, right].iter().any(|side| side[0].max(side[1]) < MISSING_RATIO * most) {
        return None;
    }
    if alone(left) && alone(turned(right)) {
        return fault(
            FaultCode::NotSummed,
            "Left carries feed 1 alone and right feed 2 alone: nothing is summed.".to_owned(),
            [("level_difference_db", db(right[1] / left[0]))],
        );
    }
    if alone(turned(left)) && alone(right) {
        return fault(
            FaultCode::FeedsSwapped,
            "Left carries feed 2 alone and right feed 1 alone: the feeds are swapped, and nothing \
             is summed."
                .to_owned(),
            [("level_difference_db", db(right[0] / left[1]))],
        );
    }
    None
}

fn polarity_turned(evidence: &Evidence) -> Option<Fault> {
    let relative = evidence.paths.relative.as_ref()?;
    (relative.gain < 0.0).then_some(())?;
    fault(
        FaultCode::PolarityTurned,
        "One channel inverts its signal and the other does not: identical sounds cancel instead of \
         adding."
            .to_owned(),
        [("gain_ratio", relative.gain)],
    )
}

/// The steps in which the loudest samples come out too low, with the lowest figure.
fn clipped_steps(evidence: &Evidence) -> Vec<(usize, f64)> {
    // A bend that is soft is graded, and takes from the loudest samples too.
    if evidence.soft_bend().is_some() {
        return Vec::new();
    }
    let tolerance_db = mismatch_tolerance_db(evidence.schedule.rate_hz());
    let is_clipped = |step: usize, sum: &SumFit| {
        let error_db = CERTAIN * sum.top_gain_error_db + evidence.paths.following_error_db;
        // A recording of few bits rounds its largest samples by up to half a code.
        let missing = evidence.largest[step] * (10f64.powf(-sum.top_gain_db / 20.0) - 1.0);
        sum.top_gain_db < -(tolerance_db + error_db) && missing > evidence.code
    };
    let sums = evidence.sums().iter().enumerate();
    sums.filter_map(|(step, sum)| Some((step, (*sum)?)))
        .filter(|(step, sum)| !evidence.is_torn(*step) && is_clipped(*step, sum))
        .map(|(step, sum)| (step, sum.top_gain_db))
        .collect()
}

/// "step 3" or "steps 3, 5 and 6".
fn in_steps(numbers: &[String]) -> String {
    format!("{} {}", if numbers.len() == 1 { "step" } else { "steps" }, list(numbers))
}

fn clipping(evidence: &Evidence) -> Option<Fault> {
    let steps = clipped_steps(evidence);
    let (_, worst_db) = *steps.iter().min_by(|x, y| x.1.total_cmp(&y.1))?;
    let numbers: Vec<String> = steps.iter().map(|(step, _)| (step + 1).to_string()).collect();
    let level_dbfs = steps.iter().map(|(step, _)| evidence.largest[*step]).fold(0.0, f64::max);
    let level_dbfs = db(level_dbfs);
    fault(
        FaultCode::Clipping,
        format!(
            "The loudest samples come out at least {} dB too low in {}: something clips or limits. \
             The largest sample recorded there is at {} dBFS.",
            fixed(-worst_db, 2),
            in_steps(&numbers),
            fixed(level_dbfs, 1)
        ),
        [("top_gain_db", worst_db), ("level_dbfs", level_dbfs), ("steps", steps.len() as f64)],
    )
}

fn sum_ratio(evidence: &Evidence) -> Option<Fault> {
    let rate_hz = evidence.schedule.rate_hz();
    let clipped = clipped_steps(evidence);
    let heard = evidence.paths.feeds.iter().flatten().count();
    if heard < 2 {
        return None;
    }
    let off: Vec<(usize, usize, f64)> = SUM_STEPS
        .into_iter()
        .filter(|step| clipped.iter().all(|(clipped, _)| clipped != step))
        .filter(|&step| !evidence.is_torn(step))
        .filter_map(|step| Some((step, evidence.sums()[step]?)))
        .flat_map(|(step, sum)| {
            let limit_db = tolerance_db(rate_hz, step, 0, Detector::Rms)
                + noise_margin_db(evidence)
                + CERTAIN * sum.share_error_db;
            [0, 1].map(|feed| {
                let off_db = db(sum.shares[feed]?);
                (off_db.abs() > limit_db).then_some((step, feed, off_db))
            })
        })
        .flatten()
        .collect();
    let most_db = off.iter().map(|off| off.2.abs()).fold(0.0, f64::max);
    let &(step, feed, off_db) = off.iter().find(|off| off.2.abs() >= most_db - SAME_DB)?;
    let what = if step == 2 { "the sum".to_owned() } else { format!("feed {}", feed + 1) };
    fault(
        FaultCode::SumRatio,
        format!(
            "With both channels playing, {what} comes out {} dB off what {} (step {}): the bus does \
             not add them one to one, or the recording's gain moved from step to step.",
            signed(off_db, 2),
            if evidence.schedule.form() == Form::Short {
                "it is when both play the same, or one of them inverted"
            } else {
                "the channels make alone"
            },
            step + 1
        ),
        [("off_db", off_db), ("step", (step + 1) as f64), ("feed", (feed + 1) as f64)],
    )
}

fn modulation(evidence: &Evidence) -> Option<Fault> {
    let moves = |unsteady: &&Unsteadiness| {
        let least_db = f64::max(MOVING_DB, SURE_MOVING * unsteady.error_db);
        unsteady.deviation_db > least_db
    };
    let most = evidence
        .paths
        .unsteadiness
        .iter()
        .filter(moves)
        .max_by(|x, y| x.deviation_db.total_cmp(&y.deviation_db))?;
    fault(
        FaultCode::Modulation,
        format!(
            "The gain moves while the test plays, by {} dB from one twentieth of a second to \
             another: something modulates the sound or follows its level.",
            fixed(most.deviation_db, 2)
        ),
        [("deviation_db", most.deviation_db), ("error_db", most.error_db)],
    )
}

fn recorder_slip(evidence: &Evidence) -> Option<Fault> {
    let slips = &evidence.slips;
    let first = slips.first()?;
    let what = |slip: &SlipFound| {
        let samples = counted(slip.frames.unsigned_abs(), "sample", "samples");
        let [from, to] = slip.between_s.map(|at_s| moment(at_s, 2));
        match slip.step {
            Some(step) => format!("{samples} at {from} (in step {})", step + 1),
            None => format!("{samples} between {from} and {to}"),
        }
    };
    let all = |lost: bool| {
        let found: Vec<String> =
            slips.iter().filter(|slip| (slip.frames < 0) == lost).map(what).collect();
        list(&found)
    };
    let sentence = match (all(true), all(false)) {
        (lost, twice) if twice.is_empty() => format!("The recorder lost {lost}."),
        (lost, twice) if lost.is_empty() => format!("The recorder repeated {twice}."),
        (lost, twice) => format!("The recorder lost {lost} and repeated {twice}."),
    };
    fault(
        FaultCode::RecorderSlip,
        sentence,
        [
            ("frames", first.frames as f64),
            ("from_s", first.between_s[0]),
            ("to_s", first.between_s[1]),
            ("slips", slips.len() as f64),
        ],
    )
}

fn band_limit(evidence: &Evidence) -> Option<Fault> {
    let rate_hz = evidence.schedule.rate_hz();
    let edge_hz = evidence.paths.upper_edge_hz?;
    (edge_hz < FULL_BAND_SHARE * rate_hz).then_some(())?;
    fault(
        FaultCode::BandLimit,
        format!(
            "The path ends at {} (−3 dB), below half the sample rate of {}: whatever lies above \
             does not reach the recording.",
            frequency(edge_hz),
            frequency(rate_hz / 2.0)
        ),
        [("edge_hz", edge_hz)],
    )
}
