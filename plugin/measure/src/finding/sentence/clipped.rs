//! Samples over a limit: how often, when, and whether what clipping them adds is heard.

use crate::finding::Clipped;
use crate::finding::thresholds::{HARDLY_HEARD_DB, HEARD_DB};
use crate::words::{count, counted, fixed, moment, signed};

/// How often, and what clipping would add where that is known.
pub(super) fn over(clipped: &Clipped) -> String {
    let limit = if clipped.limit_dbfs < 0.0 { "the ceiling" } else { "full scale" };
    let times = match clipped.clipped_runs as u64 {
        1 => "once".to_owned(),
        runs => format!("{} times", count(Some(runs))),
    };
    let adds = adds(clipped.worst_re_programme_db);
    format!("Over {limit} {times}{}{}.", when(clipped), adds.unwrap_or_default())
}

fn adds(worst_db: f64) -> Option<String> {
    if !worst_db.is_finite() {
        return None;
    }
    let damage = match worst_db {
        db if db > -0.5 => "as strong as the programme".to_owned(),
        db => format!("{} dB below the programme", fixed(-db, 0)),
    };
    let heard = match worst_db {
        db if db < HARDLY_HEARD_DB => "hardly heard",
        db if db > HEARD_DB => "heard",
        _ => "may be heard",
    };
    Some(format!(": clipping adds damage {damage} at worst: {heard}"))
}

/// Words of integers end at full scale: what stands there may have been clipped already.
pub(super) fn lost(overs: u64, sample_peak_dbfs: f64) -> String {
    format!(
        "{} at {} dBFS, the end of the word, as clipping leaves them; what was lost cannot be told.",
        counted(overs, "over", "overs"),
        signed(sample_peak_dbfs, 1)
    )
}

/// The seconds in which it begins and ends, as a clock shows them.
fn when(clipped: &Clipped) -> String {
    let [first, last] =
        [clipped.first_clipped_s, clipped.last_clipped_s].map(|time_s| moment(time_s.floor(), 0));
    if first == last { format!(", at {first}") } else { format!(", {first} to {last}") }
}
