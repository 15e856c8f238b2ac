//! The words of what clipping would add.

use crate::reading::Damage;
use crate::words::{counted, distance, moment, signed};

/// It in plain words; `None` where there is nothing to tell.
pub(super) fn of(damage: &Damage) -> Option<String> {
    let limit = signed(damage.limit_dbfs.finite()?, 1);
    let Some(below_db) = damage.re_programme_db.finite() else {
        let is_clipped = damage.is_lost && damage.clipped_samples.is_some();
        return is_clipped.then(|| {
            "Damage: no sample lies over the limit, and what was clipped before cannot be worked out."
                .to_owned()
        });
    };
    let samples = counted(damage.clipped_samples?, "sample", "samples");
    let (runs, lie) = match damage.clipped_runs? {
        1 => ("one run".to_owned(), if damage.clipped_samples == Some(1) { "lies" } else { "lie" }),
        runs => (counted(runs, "run", "runs"), "lie"),
    };
    let [first, last] =
        [damage.first_clipped_s?, damage.last_clipped_s?].map(|time_s| moment(time_s, 1));
    let when = if first == last { format!("at {first}") } else { format!("{first} to {last}") };
    let worst = damage.worst_re_programme_db.finite().zip(damage.worst_at_s).map(|(db, at_s)| {
        format!(", at worst {} for 100 ms from {} on", against(db), moment(at_s, 1))
    });
    Some(format!(
        "Damage: {samples} in {runs} {lie} over {limit} dBFS ({when}, min:s). Clipped there, they add \
         {} dBFS in the audible band, {} over all{}.",
        signed(damage.audible_dbfs.finite()?, 1),
        against(below_db),
        worst.unwrap_or_default()
    ))
}

fn against(re_programme_db: f64) -> String {
    let side = if re_programme_db > 0.0 { "above" } else { "below" };
    format!("{} {side} the programme", distance(re_programme_db))
}
