//! What is wrong with a mixer: what breaks the law of addition, by rules.
//!
//! Each rule compares a fit, not a single reading: a gain or a delay found over a whole step of
//! noise that is known to the sample.

mod rules;

use super::fault::{Fault, FaultCode};
use super::grade::Limits;
use super::lost::Lost;
use super::path::{Bend, Paths, SumFit};
use super::schedule::{STEPS, Schedule};

/// What the rules look at.
pub(super) struct Evidence<'a> {
    pub schedule: &'a Schedule,
    pub paths: &'a Paths,
    /// The indexes in [`STEPS`] of the steps that the recording holds.
    pub held: Vec<usize>,
    /// The largest sample in each step, linear.
    pub largest: [f64; STEPS.len()],
    /// Gains of feed 1 and feed 2 on left and right, of a stereo recording.
    pub halves: Option<[[f64; 2]; 2]>,
    pub slips: Vec<SlipFound>,
    pub lost: Lost,
    /// The step from one code of the recording's word to the next, linear; 0 where there is none.
    pub code: f64,
    /// The silence before the first step, if it was heard.
    pub floor: Option<Floor>,
    /// What differences are graded against.
    pub limits: &'a Limits,
}

/// The recording's own noise.
#[derive(Debug, Clone, Copy)]
pub(super) struct Floor {
    /// Its RMS against that of a step, in dB.
    pub below_db: f64,
    /// The number of that step.
    pub reference_step: usize,
    pub kind: FloorKind,
}

/// What more than half of a recording's own noise is.
#[derive(Debug, Clone, Copy)]
pub(super) enum FloorKind {
    Noise,
    /// The harmonics of a mains frequency, in Hz.
    Hum(f64),
    Dc,
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

/// A soft bend that takes more than this from a sum, in dB, or adds more to it, breaks addition, as
/// clipping does.
const MOST_SOFT_LOSS_DB: f64 = 1.0;

impl Evidence<'_> {
    /// Whether the recording holds a step (index in [`STEPS`]).
    pub fn holds(&self, step: usize) -> bool {
        self.held.contains(&step)
    }

    /// The bend, if it is soft enough not to break addition, and the most that it takes from a sum,
    /// in dB: negative where it adds to them.
    pub fn soft_bend(&self) -> Option<(&Bend, f64)> {
        let bend = self.paths.bend.as_ref()?;
        let shares = SUM_STEPS.into_iter().filter_map(|step| self.paths.sums[step]?.shares[0]);
        let losses_db = shares.map(|share| -20.0 * share.abs().log10());
        let loss_db = losses_db.max_by(|x, y| x.abs().total_cmp(&y.abs())).unwrap_or(0.0);
        (loss_db.abs() <= MOST_SOFT_LOSS_DB).then_some((bend, loss_db))
    }

    /// The sums that are judged: what a soft bend takes from them is graded, and no fault.
    pub fn sums(&self) -> &[Option<SumFit>] {
        self.soft_bend().map_or(&self.paths.sums, |(bend, _)| &bend.sums)
    }

    /// Whether a step's sum was compared with what the channels make alone.
    pub fn is_compared(&self, step: usize) -> bool {
        let is_apart = |sum: SumFit| sum.shares.iter().any(Option::is_some);
        self.paths.relative.is_some() && self.sums()[step].is_some_and(is_apart)
    }

    /// Whether the channels' signs are opposite, so that the same sounds cancel.
    pub fn cancels_in_phase(&self) -> bool {
        self.paths.relative.as_ref().is_some_and(|relative| relative.gain < 0.0)
    }

    /// Whether left and right carry more than one feed each.
    pub fn is_one_bus(&self) -> bool {
        rules::not_summed(self).is_none()
    }

    /// Whether the channels' difference depends on frequency, so that no fader makes them alike.
    pub fn is_uneven(&self) -> bool {
        rules::is_uneven(self)
    }

    /// Whether a step (index in [`STEPS`]) lacks so much, or holds so much twice, that its sum comes
    /// out wrong.
    pub fn is_torn(&self, step: usize) -> bool {
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

/// The steps in which both feeds play as noise, the null apart.
pub(super) const SUM_STEPS: [usize; 4] = [2, 4, 5, 6];
