//! The answer of an audit: the verdict, its sentence, and what the recording does not tell.

use super::fault::{Fault, FaultCode};
use super::faults::{Evidence, SUM_STEPS};
use super::grade::{Grade, GradeCode, Limits};
use super::record::Verdict;
use super::schedule::{Form, STEPS, in_steps};
use super::statistics::mismatch_tolerance_db;
use crate::words::{fixed, list};

/// Sentences about what the recording does not tell.
pub(super) fn not_judged(evidence: &Evidence) -> Vec<String> {
    let mut sentences = evidence.lost.sentences();
    let is_missing = |step: &usize| !evidence.holds(*step) && !evidence.lost.is_in(*step);
    let missing: Vec<usize> =
        evidence.schedule.steps().iter().copied().filter(is_missing).collect();
    if !missing.is_empty() {
        sentences.push(format!("The recording does not hold {}.", in_steps(&missing)));
    }
    for feed in [0, 1] {
        if !evidence.paths.is_known[feed] {
            sentences.push(format!(
                "From the steps that are there does not follow what feed {} makes.",
                feed + 1
            ));
        }
    }
    if evidence.paths.relative.is_none() {
        return sentences;
    }
    if evidence.schedule.form() == Form::Short {
        sentences.push(
            "The short test plays neither feed alone: whether both together come out other than \
             each alone would, only the full test tells."
                .to_owned(),
        );
    } else if !evidence.is_compared(2) && !evidence.cancels_in_phase() {
        sentences.push("What the same noise on both channels adds is not judged.".to_owned());
    }
    if ![4, 5, 6].into_iter().any(|step| evidence.is_compared(step)) {
        sentences.push("What independent noises add is not judged.".to_owned());
    }
    if evidence.paths.null.is_none() {
        sentences.push("Whether opposite polarities cancel is not judged.".to_owned());
    }
    sentences
}

/// What an audit answers.
pub(super) struct Answer {
    pub verdict: Verdict,
    /// In one sentence.
    pub headline: String,
    /// With all that was found, and what to do about it.
    pub sentence: String,
}

impl Answer {
    fn new(verdict: Verdict, headline: String, others: Vec<String>) -> Self {
        let all: Vec<String> = std::iter::once(headline.clone()).chain(others).collect();
        Self { verdict, headline, sentence: all.join(" ") }
    }
}

/// The verdict and its sentences.
pub(super) fn answer(
    evidence: &Evidence,
    faults: &[Fault],
    grades: &[Grade],
    not_judged: &[String],
) -> Answer {
    let told = |told: fn(&Fault) -> bool| -> Vec<String> {
        let faults = faults.iter().filter(|fault| told(fault));
        faults.flat_map(|fault| with_action(&fault.sentence, fault.action)).collect()
    };
    let graded = |counts: fn(&Grade) -> bool| -> Vec<String> {
        let grades = grades.iter().filter(|grade| counts(grade));
        grades.flat_map(|grade| with_action(&grade.sentence, grade.action.as_deref())).collect()
    };
    let not_judged = not_judged.to_vec();
    if faults.iter().any(|fault| fault.code.spoils_sum()) {
        let mut faults = told(|fault| fault.code != FaultCode::BandLimit);
        let worst = faults.remove(0);
        let others = [faults, graded(|grade| !grade.within), not_judged].concat();
        return Answer::new(Verdict::Faulty, worst, others);
    }
    let slips = told(|fault| fault.code == FaultCode::RecorderSlip);
    let others = [slips, not_judged.clone()].concat();
    if !SUM_STEPS.into_iter().any(|step| evidence.is_compared(step)) {
        let why = "The recording holds too little of the test to tell how the mixer adds.";
        return Answer::new(Verdict::CannotTell, why.to_owned(), others);
    }
    if let Some(why) = why_uncertain(evidence) {
        return Answer::new(Verdict::CannotTell, why, others);
    }
    let sums = format!("The mixer sums correctly: {}.", what_sums(evidence, grades));
    let others = [graded(|grade| grade.told || !grade.within), told(|_| true), not_judged].concat();
    Answer::new(Verdict::SumsCorrectly, sums, others)
}

/// What was found, and behind it what to do.
fn with_action(sentence: &str, action: Option<&str>) -> Vec<String> {
    std::iter::once(sentence).chain(action).map(str::to_owned).collect()
}

/// What was found to add up, in words.
fn what_sums(evidence: &Evidence, grades: &[Grade]) -> String {
    let is_short = evidence.schedule.form() == Form::Short;
    if !is_ideal(evidence, grades) {
        return if is_short {
            "the same noise, independent ones and opposite polarities add up one to one".to_owned()
        } else {
            "what both channels make together is what each makes alone, added".to_owned()
        };
    }
    let independent = [4, 5, 6].into_iter().any(|step| evidence.is_compared(step));
    let mut parts = Vec::new();
    if is_short {
        parts.push("the same noise on both channels comes out 3.0 dB above independent noises");
    }
    if !is_short && evidence.is_compared(2) {
        parts.push("the same noise on both channels adds 6.0 dB");
    }
    if !is_short && independent {
        parts.push("independent noises add 3.0 dB");
    }
    if evidence.paths.null.is_some() {
        parts.push("opposite polarities cancel");
    }
    list(&parts.into_iter().map(str::to_owned).collect::<Vec<_>>())
}

/// Whether the channels are so much alike, and so straight, that the ideal figures hold.
fn is_ideal(evidence: &Evidence, grades: &[Grade]) -> bool {
    let limits = Limits::DIGITAL;
    let delay = limits.delay.samples(evidence.schedule.rate_hz());
    grades.iter().all(|grade| match grade.code {
        GradeCode::LevelDifference => grade.value.abs() <= limits.level_db + grade.uncertainty,
        GradeCode::DelayDifference => grade.value.abs() <= delay + grade.uncertainty,
        GradeCode::SumLoss => grade.value.abs() <= limits.level_db,
        GradeCode::Distortion | GradeCode::NoiseFloor => true,
    })
}

fn why_uncertain(evidence: &Evidence) -> Option<String> {
    let tolerance_db = mismatch_tolerance_db(evidence.schedule.rate_hz());
    let paths = evidence.paths;
    if let Some((step, foreign_ratio)) = foreign(evidence) {
        let change_db = 10.0 * foreign_ratio.ln_1p() / std::f64::consts::LN_10;
        if change_db > tolerance_db {
            return Some(format!(
                "In step {} something else is in the recording: {} dB below the step's own sound \
                 there is one that comes from neither feed. Record again without it.",
                step + 1,
                fixed(-10.0 * foreign_ratio.log10(), 1)
            ));
        }
    }
    let (noise_db, following_db) = (paths.gain_error_db * 1.96, paths.following_error_db);
    if noise_db + following_db > tolerance_db {
        let within_db = fixed(noise_db + following_db, 2);
        return Some(if (0..STEPS.len()).any(|step| evidence.is_torn(step)) {
            "Too much of the test is lost to tell. Record again.".to_owned()
        } else if following_db > noise_db {
            format!(
                "What the feeds do not explain comes and goes with the sound, as with lossy coding, \
                 few bits, or an effect that moves: gains are certain only within {within_db} dB. \
                 Record again with 24 bits, without lossy coding and without effects."
            )
        } else {
            format!(
                "The noise in the recording is too strong to tell: gains are certain only within \
                 {within_db} dB. Record again with less of it."
            )
        });
    }
    None
}

/// A sound in one step has this many times the power of what is left over in the quietest.
const FOREIGN: f64 = 8.0;

/// The step that holds most that comes from neither feed, if the others hold much less, and how much
/// it is over the step's own power.
fn foreign(evidence: &Evidence) -> Option<(usize, f64)> {
    let paths = evidence.paths;
    let ratio = paths.relative.as_ref().map_or(1.0, |relative| relative.gain.abs());
    // Powers against step 1.
    let whole = SUM_STEPS.into_iter().filter(|&step| !evidence.is_torn(step));
    let left = whole.filter_map(|step| {
        let power = if step == 2 { (1.0 + ratio).powi(2) } else { 1.0 + ratio * ratio };
        let sum = evidence.sums()[step].filter(|sum| sum.shares != [None, None])?;
        Some((step, power, sum.left_ratio * power))
    });
    let least = left.clone().map(|(_, _, left)| left).fold(f64::INFINITY, f64::min);
    left.filter(|(_, _, left)| *left > FOREIGN * least)
        .map(|(step, power, left)| (step, (left - least) / power))
        .max_by(|x, y| x.1.total_cmp(&y.1))
}
