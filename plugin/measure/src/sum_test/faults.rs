//! What is wrong with a mixer: the rules, and the answer that follows.
//!
//! Each rule compares a fit, not a single reading: a gain or a delay found over a whole step of
//! noise that is known to the sample.

mod rules;

use super::fault::{Fault, FaultCode};
use super::path::Paths;
use super::record::Verdict;
use super::schedule::{STEPS, Schedule};
use super::statistics::mismatch_tolerance_db;
use crate::words::fixed;

/// What the rules look at.
pub(super) struct Evidence<'a> {
    pub schedule: &'a Schedule,
    pub paths: &'a Paths,
    /// The largest sample in each step, linear.
    pub largest: Vec<f64>,
    /// Gains of feed 1 and feed 2 on left and right, of a stereo recording.
    pub halves: Option<[[f64; 2]; 2]>,
    pub slips: Vec<SlipFound>,
    /// The step from one code of the recording's word to the next, linear; 0 where there is none.
    pub code: f64,
}

/// Samples that the recorder lost or played twice.
#[derive(Debug, Clone, Copy)]
pub(super) struct SlipFound {
    /// How many it played twice; negative if it lost them.
    pub frames: i64,
    /// Where in the recording it may have happened: from and to, in seconds.
    pub between_s: [f64; 2],
    /// The index in [`STEPS`] of the step that it is in, if in one.
    pub step: Option<usize>,
}

impl Evidence<'_> {
    /// Whether a step (index in [`STEPS`]) lacks so much, or holds so much twice, that its sum comes
    /// out wrong.
    fn is_torn(&self, step: usize) -> bool {
        /// A slip of so many frames makes 0.01 dB of a step's sum at any rate.
        const TORN_FRAMES: u64 = 150;
        let torn = |slip: &SlipFound| slip.frames.unsigned_abs() > TORN_FRAMES;
        self.slips.iter().any(|slip| slip.step == Some(step) && torn(slip))
    }
}

/// Every fault, worst first.
pub(super) fn find(evidence: &Evidence) -> Vec<Fault> {
    let mut faults: Vec<Fault> = rules::RULES.iter().filter_map(|rule| rule(evidence)).collect();
    let has = |faults: &[Fault], code| faults.iter().any(|fault| fault.code == code);
    // A bus that does not sum at all has no ratio, match or null to speak of.
    if has(&faults, FaultCode::NotSummed) || has(&faults, FaultCode::FeedsSwapped) {
        faults.retain(|fault| {
            matches!(
                fault.code,
                FaultCode::NotSummed
                    | FaultCode::FeedsSwapped
                    | FaultCode::RecorderSlip
                    | FaultCode::BandLimit
            )
        });
    }
    faults.sort_by_key(|fault| fault.code);
    faults
}

/// The verdict and its sentence.
pub(super) fn judge(faults: &[Fault], evidence: &Evidence) -> (Verdict, String) {
    let sentences = |told: fn(&Fault) -> bool| -> Vec<&str> {
        faults.iter().filter(|fault| told(fault)).map(|fault| fault.sentence.as_str()).collect()
    };
    if faults.iter().any(|fault| fault.code.spoils_sum()) {
        return (Verdict::Faulty, sentences(|fault| fault.code != FaultCode::BandLimit).join(" "));
    }
    if let Some(sentence) = why_uncertain(evidence) {
        let slips = sentences(|fault| fault.code == FaultCode::RecorderSlip);
        return (Verdict::CannotTell, [slips, vec![&sentence]].concat().join(" "));
    }
    let mut sentence = "The mixer sums correctly: the same noise on both channels adds 6.0 dB, \
                        independent noises add 3.0 dB, and opposite polarities cancel."
        .to_owned();
    for fault in faults {
        sentence.push(' ');
        sentence.push_str(&fault.sentence);
    }
    (Verdict::SumsCorrectly, sentence)
}

/// The steps in which both feeds play as noise, the null apart.
const SUM_STEPS: [usize; 4] = [2, 4, 5, 6];

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
        Some((step, power, paths.sums[step]?.left_ratio * power))
    });
    let least = left.clone().map(|(_, _, left)| left).fold(f64::INFINITY, f64::min);
    left.filter(|(_, _, left)| *left > FOREIGN * least)
        .map(|(step, power, left)| (step, (left - least) / power))
        .max_by(|x, y| x.1.total_cmp(&y.1))
}
