//! The card: all that somebody with these files at a mixer needs to know.

mod pairs;
mod paper;
mod repeated;
mod setup;
mod shown;
mod test;

use super::plan::Plan;

/// The card of files at a rate in Hz and a level in dBFS of the peak.
pub(super) fn text(plan: &Plan, rate_hz: u32, level_dbfs: f64) -> String {
    let files = plan.files();
    match plan {
        Plan::Test(schedule) => test::text(schedule, level_dbfs, files),
        Plan::Loop { pattern, rounds } => repeated::text(pattern, *rounds, level_dbfs, files),
        Plan::Pairs { pattern, frames } => {
            let length_s = *frames as f64 / f64::from(rate_hz);
            pairs::text(pattern, length_s, level_dbfs, files)
        }
    }
}
