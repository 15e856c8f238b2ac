//! How each sum comes out against its parts, added, as a record: what two mixers are compared by.
//!
//! The parts are what the same bus made of each feed apart, so that levels, delays and responses of
//! the channels have no part in it; nor has the recording's gain.

use serde::Serialize;

use super::faults::{Evidence, SUM_STEPS};
use super::path::SumGain;
use super::schedule::Form;
use crate::level::Level;

/// 20·log10(e): decibels of a small relative error of an amplitude.
const DB_PER_AMPLITUDE: f64 = 8.685_889_638;
/// The index of the step in which opposite polarities cancel.
const NULL: usize = 3;
/// What is left has to exceed what noise can be by this factor before it is the mixer's.
const ABOVE_NOISE: f64 = 4.0;

/// One sum.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SumRecord {
    /// The number of its step.
    pub step: usize,
    /// Level of the sum against its parts added, in dB: 0 is a perfect sum. Of opposite polarities,
    /// what they leave with feed 2's part added, against feed 1's part.
    pub gain_db: f64,
    /// Its standard error, from what no part explains, in dB.
    pub standard_error_db: f64,
    /// By how much it may be off besides, because noise follows the sound, in dB.
    pub following_error_db: f64,
}

/// What opposite polarities leave.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct NullRecord {
    /// Against step 1, from 250 Hz to 16 kHz, the recording's noise included, in dB.
    pub depth_db: Level,
    /// What of it noise can be, in dB.
    pub noise_db: Level,
}

impl NullRecord {
    /// Whether noise is as much as a quarter of it: then the null may be any deeper.
    #[must_use]
    pub fn may_be_deeper(&self) -> bool {
        match (self.depth_db.power(), self.noise_db.power()) {
            (Some(left), Some(noise)) => left < ABOVE_NOISE * noise,
            _ => true,
        }
    }

    /// By how much noise may have made it shallower, in dB, where it is no more than a quarter.
    pub(super) fn error_db(&self) -> f64 {
        let ratio = self.noise_db.minus(self.depth_db).power().unwrap_or(1.0);
        10.0 * ratio.ln_1p() / std::f64::consts::LN_10
    }
}

/// The sums that could be compared with their parts, in the order of the steps.
pub(super) fn sums(evidence: &Evidence) -> Vec<SumRecord> {
    let paths = evidence.paths;
    let is_alone = evidence.holds(0) && evidence.holds(1);
    if !evidence.is_one_bus() || !is_alone && evidence.schedule.form() == Form::Full {
        return Vec::new();
    }
    let record = |(step, sum): (usize, SumGain)| SumRecord {
        step: step + 1,
        gain_db: 20.0 * sum.gain.abs().log10(),
        standard_error_db: DB_PER_AMPLITUDE * sum.error / sum.gain.abs(),
        following_error_db: paths.following_error_db,
    };
    let together = SUM_STEPS.into_iter().filter_map(|step| Some((step, paths.sums[step]?.sum?)));
    let apart = paths.opposite.map(|sum| (NULL, sum));
    let mut sums: Vec<SumRecord> =
        together.chain(apart).filter(|(step, _)| !evidence.is_torn(*step)).map(record).collect();
    sums.sort_by_key(|sum| sum.step);
    sums
}

/// Step 4, where both feeds are heard.
pub(super) fn null(evidence: &Evidence) -> Option<NullRecord> {
    let null = evidence.paths.null.as_ref().filter(|_| evidence.is_one_bus())?;
    Some(NullRecord {
        depth_db: Level::from_power(null.whole.left),
        noise_db: Level::from_power(null.whole.noise),
    })
}
