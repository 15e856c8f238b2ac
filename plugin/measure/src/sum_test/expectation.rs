//! What every detector must show in every step: the bank, run over the ideal sum of both feeds.
//!
//! Every detector is linear in level, so one run at a reference level serves every level.

use std::collections::HashMap;
use std::sync::{Arc, LazyLock, Mutex};

use super::feed::{Feed, USUAL_LEVEL_DBFS};
use super::measured::{BANDS, measure};
use super::schedule::{STEPS, Schedule};
use super::statistics::tolerance_db;
use crate::detector::{Detector, Shown};
use crate::level::Level;

/// The name of a band by its place in every table.
#[must_use]
pub fn band_name(band: usize) -> &'static str {
    BANDS[band]
}

/// What the ideal sum shows at one sample rate.
#[derive(Debug, Clone)]
pub struct Expectations {
    /// By step and band; at the usual level.
    steps: Vec<[Shown; 2]>,
    /// By step, band and detector, in dB.
    tolerances: Vec<[[f64; Detector::ALL.len()]; 2]>,
}

impl Expectations {
    /// The level that the detector shows in the step of this index in [`STEPS`], for feeds at
    /// `level_dbfs`.
    #[must_use]
    pub fn level(&self, step: usize, band: usize, detector: Detector, level_dbfs: f64) -> Level {
        let index = detector as usize;
        self.steps[step][band][index].plus(level_dbfs - USUAL_LEVEL_DBFS)
    }

    /// How far a step's level against step 1 may lie from the expected one, in dB: what
    /// [`tolerance_db`] says.
    #[must_use]
    pub fn tolerance_db(&self, step: usize, band: usize, detector: Detector) -> f64 {
        self.tolerances[step][band][detector as usize]
    }

    /// The expected level against step 1.
    #[must_use]
    pub fn change_db(&self, step: usize, band: usize, detector: Detector) -> Level {
        let index = detector as usize;
        self.steps[step][band][index].minus(self.steps[0][band][index])
    }
}

/// The expectations at a rate, worked out once and kept; `None` where the test cannot play.
#[must_use]
pub fn expectations(rate_hz: u32) -> Option<Arc<Expectations>> {
    static KNOWN: LazyLock<Mutex<HashMap<u32, Arc<Expectations>>>> = LazyLock::new(Mutex::default);
    let schedule = Schedule::new(rate_hz)?;
    // A panic elsewhere cannot leave a half-made entry, so a poisoned lock is still good.
    let mut known = KNOWN.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    Some(Arc::clone(known.entry(rate_hz).or_insert_with(|| Arc::new(work_out(&schedule)))))
}

fn work_out(schedule: &Schedule) -> Expectations {
    let mut sum = Feed::One.all(schedule, USUAL_LEVEL_DBFS);
    for (sum, two) in sum.iter_mut().zip(Feed::Two.all(schedule, USUAL_LEVEL_DBFS)) {
        *sum += two;
    }
    let stretches: Vec<_> = schedule
        .step_starts()
        .map(|(_, start)| start as usize..(start + schedule.read_frames()) as usize)
        .collect();
    let steps = measure(&sum, schedule.rate_hz(), &stretches)
        .into_iter()
        .zip(&STEPS)
        .map(|(shown, step)| if step.is_bursts() { shown.highest } else { shown.settled })
        .collect();
    let tolerances = (0..STEPS.len())
        .map(|step| {
            [0, 1].map(|band| {
                Detector::ALL.map(|detector| tolerance_db(schedule.rate_hz(), step, band, detector))
            })
        })
        .collect();
    Expectations { steps, tolerances }
}
