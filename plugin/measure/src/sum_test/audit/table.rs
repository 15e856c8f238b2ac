//! The table of steps: measured against expected, with the tolerance that statistics allow.

use std::collections::BTreeMap;

use crate::detector::Detector;
use crate::level::Level;
use crate::sum_test::align::Clock;
use crate::sum_test::expectation::Expectations;
use crate::sum_test::measured::{BANDS, StretchShown};
use crate::sum_test::record::{Measure, StepRecord};
use crate::sum_test::schedule::{STEPS, Schedule};
use crate::sum_test::statistics::{null_limit_db, silence_error_db};

pub(super) fn steps(
    shown: &[StretchShown],
    floor: &StretchShown,
    expectations: &Expectations,
    clock: &Clock,
    schedule: &Schedule,
) -> Vec<StepRecord> {
    let rate_hz = schedule.rate_hz();
    let row = |index: usize, band: usize, detector: Detector| {
        let level = level(shown, index, band, detector);
        let first = level_of_first(shown, band, detector);
        let floor = floor.settled[band][detector as usize];
        let change = level.minus(first);
        let expected = expectations.change_db(index, band, detector);
        if STEPS[index].is_null() {
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
        let tolerance = expectations.tolerance_db(index, band, detector)
            + floor_allowance_db(level, floor, detector)
            + floor_allowance_db(first, floor, detector);
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

fn level(shown: &[StretchShown], index: usize, band: usize, detector: Detector) -> Level {
    let bands =
        if STEPS[index].is_bursts() { &shown[index].highest } else { &shown[index].settled };
    bands[band][detector as usize]
}

fn level_of_first(shown: &[StretchShown], band: usize, detector: Detector) -> Level {
    level(shown, 0, band, detector)
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
