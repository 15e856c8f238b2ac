//! `ledgerline meter`: names meters from what they showed, without a recording. One meter that cannot
//! be named does not keep the others from it.

mod plan;
mod record;
mod text;

use std::io::Write;

use anyhow::{Context, Result};
use ledgerline_measure::sum_test::{Identification, identify_played};

use crate::options::MeterOptions;
use crate::outcome::Outcome;
use plan::{Meter, Plan};
use record::MeterRecord;

/// A meter and what was found.
struct Found<'a> {
    meter: &'a Meter,
    identified: Identification,
}

impl Found<'_> {
    fn outcome(&self) -> Outcome {
        let summing = self.identified.summing.as_ref();
        if summing.and_then(|summing| summing.agrees) == Some(false) {
            Outcome::Faulty
        } else if self.identified.possible.is_empty() {
            Outcome::NotDone
        } else {
            Outcome::Fine
        }
    }
}

pub(crate) fn run(options: &MeterOptions, out: &mut dyn Write) -> Result<Outcome> {
    let plan = Plan::new(options)?;
    let mut outcome = Outcome::Fine;
    let mut found = Vec::new();
    for meter in &plan.meters {
        match identify_played(plan.rate_hz, plan.played, &meter.readings, plan.resolution_db) {
            Ok(identified) => found.push(Found { meter, identified }),
            Err(error) => {
                let name = meter.name.as_deref().unwrap_or("the meter");
                let error = Err::<(), _>(error).context(format!("{name} cannot be named"));
                error.unwrap_or_else(|error| crate::complain(&error));
                outcome = Outcome::NotDone;
            }
        }
    }
    outcome = found.iter().map(Found::outcome).fold(outcome, Outcome::max);
    if options.json {
        let records: Vec<_> = found.iter().map(|found| MeterRecord::new(&plan, found)).collect();
        let json = match &records[..] {
            [only] if plan.meters.len() == 1 => serde_json::to_string_pretty(only)?,
            _ => serde_json::to_string_pretty(&records)?,
        };
        if !found.is_empty() {
            writeln!(out, "{json}")?;
        }
    } else if let [only] = &found[..] {
        text::one(&plan, only, out)?;
    } else if !found.is_empty() {
        text::several(&plan, &found, out)?;
    }
    Ok(outcome)
}
