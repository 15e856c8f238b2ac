//! The table of steps: measured against expected, with the tolerance that statistics allow.

use std::collections::BTreeMap;

use super::Read;
use crate::detector::Detector;
use crate::level::Level;
use crate::sum_test::align::Clock;
use crate::sum_test::expectation::Expectations;
use crate::sum_test::measured::{BANDS, StretchShown, measure};
use crate::sum_test::record::{Measure, StepRecord};
use crate::sum_test::schedule::{STEPS, Schedule};
use crate::sum_test::statistics::{null_limit_db, silence_error_db, tolerance_between_db};

/// Steps against which the others are compared: the first of them that is there.
pub(super) const REFERENCES: [usize; 4] = [0, 1, 4, 2];

/// What was shown in the floor and in the steps.
pub(super) struct Shown {
    pub(super) floor: StretchShown,
    /// By step.
    pub(super) steps: [Option<StretchShown>; STEPS.len()],
}

impl Shown {
    /// Runs all detectors over what of the test is read.
    pub(super) fn new(signal: &[f32], rate_hz: f64, read: &Read) -> Self {
        let stretches: Vec<_> =
            read.floor.iter().chain(read.steps.iter().map(|(_, range)| range)).cloned().collect();
        let mut shown = measure(signal, rate_hz, &stretches).into_iter();
        let floor = read.floor.as_ref().and_then(|_| shown.next());
        let mut steps = [None; STEPS.len()];
        for ((step, _), shown) in read.steps.iter().zip(shown) {
            steps[*step] = Some(shown);
        }
        Self { floor: floor.unwrap_or(StretchShown::NONE), steps }
    }

    /// The index of the step that changes are told against.
    pub(super) fn reference(&self) -> Option<usize> {
        REFERENCES.into_iter().find(|&step| self.steps[step].is_some())
    }

    /// What is read of a step.
    pub(super) fn level(&self, step: usize, band: usize, detector: Detector) -> Level {
        let shown = self.steps[step].as_ref();
        shown.map_or(Level::NONE, |shown| {
            let bands = if STEPS[step].is_bursts() { &shown.highest } else { &shown.settled };
            bands[band][detector as usize]
        })
    }
}

pub(super) fn steps(
    shown: &Shown,
    expectations: &Expectations,
    clock: &Clock,
    schedule: &Schedule,
) -> Vec<StepRecord> {
    let rate_hz = schedule.rate_hz();
    let reference = shown.reference();
    let row = |index: usize, band: usize, detector: Detector| {
        let level = shown.level(index, band, detector);
        let floor = shown.floor.settled[band][detector as usize];
        // Of a part of the test in which no step will do, levels are all there is.
        let Some(reference) = reference else {
            let none = Level::NONE;
            return Measure {
                level_dbfs: level,
                change_db: none,
                expected_db: none,
                tolerance_db: none,
                within: true,
            };
        };
        let compared = shown.level(reference, band, detector);
        let change = level.minus(compared);
        let of_reference = expectations.change_db(reference, band, detector);
        let expected = expectations
            .change_db(index, band, detector)
            .plus(-of_reference.finite().unwrap_or(0.0));
        if STEPS[index].is_null() {
            let first = compared.plus(-of_reference.finite().unwrap_or(0.0));
            let limit =
                first.plus(null_limit_db(expectations.tolerance_db(1, band, detector), rate_hz));
            let within = null_within(level, limit, floor, detector, rate_hz);
            return Measure {
                level_dbfs: level,
                change_db: change,
                expected_db: Level::SILENCE,
                tolerance_db: Level::NONE,
                within,
            };
        }
        let of_noise_db = if reference == 0 {
            expectations.tolerance_db(index, band, detector)
        } else {
            tolerance_between_db(rate_hz, [index, reference], band, detector)
        };
        let tolerance = of_noise_db
            + floor_allowance_db(level, floor, detector)
            + floor_allowance_db(compared, floor, detector);
        let within = match (change.finite(), expected.finite()) {
            // Far below any recording's last digit, for steps in which nothing is random.
            (Some(change), Some(expected)) => (change - expected).abs() <= tolerance + 1e-3,
            _ => false,
        };
        Measure {
            level_dbfs: level,
            change_db: change,
            expected_db: expected,
            tolerance_db: Level::from_db(tolerance),
            within,
        }
    };
    schedule
        .step_starts()
        .filter(|(index, _)| shown.steps[*index].is_some())
        .map(|(index, start)| {
            let step = &STEPS[index];
            let (start, end) = (start as f64, (start + schedule.step_frames()) as f64);
            let bands = (0..BANDS.len())
                .map(|band| {
                    let rows = Detector::ALL
                        .into_iter()
                        .map(|detector| (detector.name(), row(index, band, detector)))
                        .collect();
                    (BANDS[band], rows)
                })
                .collect();
            StepRecord {
                step: step.number,
                name: step.name,
                start_s: clock.place(start) / rate_hz,
                end_s: clock.place(end) / rate_hz,
                bands,
            }
        })
        .collect()
}

/// RMS of the silence before the first step, by band, in dBFS.
pub(super) fn floor(floor: &StretchShown) -> BTreeMap<&'static str, Level> {
    (0..BANDS.len())
        .map(|band| (BANDS[band], floor.settled[band][Detector::Rms as usize]))
        .collect()
}

/// The most that the noise floor, as this detector reads it, can add to a level: powers add where
/// power is measured, amplitudes elsewhere.
fn floor_allowance_db(level: Level, floor: Level, detector: Detector) -> f64 {
    let Some(over_db) = floor.minus(level).finite() else { return 0.0 };
    match detector {
        Detector::Rms | Detector::Momentary => 10.0 * (1.0 + 10f64.powf(over_db / 10.0)).log10(),
        _ => 20.0 * (1.0 + 10f64.powf(over_db / 20.0)).log10(),
    }
}

/// Whether a null is as deep as channels matched within the tolerance leave it, above the floor.
fn null_within(level: Level, limit: Level, floor: Level, detector: Detector, rate_hz: f64) -> bool {
    let Some(level_db) = level.db() else { return true };
    let Some(limit_db) = limit.finite() else { return false };
    let allowed_db = limit_db + floor_allowance_db(limit, floor, detector);
    level_db <= allowed_db + silence_error_db(rate_hz)
}
