//! The record: `ledgerline.meter/1`.

use ledgerline_measure::Level;
use ledgerline_measure::sum_test::{Identification, Played, step_name};
use serde::Serialize;

use super::Found;
use super::plan::Plan;

/// Name and version of the record's shape.
const METER_SCHEMA: &str = "ledgerline.meter/1";

/// What a meter showed, and what that says.
#[derive(Serialize)]
pub(super) struct MeterRecord<'a> {
    schema: &'static str,
    /// The meter's name.
    meter: Option<&'a str>,
    played: Played,
    sample_rate_hz: u32,
    resolution_db: f64,
    readings: Vec<ReadingRecord>,
    #[serde(flatten)]
    identified: &'a Identification,
}

#[derive(Serialize)]
struct ReadingRecord {
    step: usize,
    name: String,
    shown_db: Level,
}

impl<'a> MeterRecord<'a> {
    pub(super) fn new(plan: &Plan, found: &'a Found<'_>) -> Self {
        let readings = found.meter.readings.iter().map(|reading| ReadingRecord {
            step: reading.step,
            name: step_name(reading.step),
            shown_db: Level::from_db(reading.shown_db),
        });
        Self {
            schema: METER_SCHEMA,
            meter: found.meter.name.as_deref(),
            played: plan.played,
            sample_rate_hz: plan.rate_hz,
            resolution_db: plan.resolution_db,
            readings: readings.collect(),
            identified: &found.identified,
        }
    }
}
