//! What to do about a finding, in a line. The one source of it for screens, pages and terminals.

use super::Fact;
use super::thresholds::{AUDIBLE_OVER_DBTP, K_WEIGHTING_SPREAD, NOTHING_DB, READING_DB};
use crate::words::{distance, frequency};

/// Nothing is lost inside floating point.
const BEFORE_CLIPPING: &str = "Before an export or fixed-point output: turn down";

/// The line; `None` where there is nothing to do.
pub(super) fn of(fact: &Fact) -> Option<String> {
    Some(match *fact {
        Fact::InvalidInput { .. } => "Find what makes them, ahead of here.".into(),
        Fact::Overs { audible_true_peak_dbtp, .. }
            if audible_true_peak_dbtp < AUDIBLE_OVER_DBTP =>
        {
            "Take the hidden content out at its source.".into()
        }
        Fact::Overs { sample_peak_dbfs, true_room_db, room_now_db, damage, .. } => {
            let over_db = sample_peak_dbfs.max(-true_room_db).max(-room_now_db);
            if damage.clipped_runs.is_nan() {
                at_least("Where it was made: turn down", over_db)
            } else if damage.clipped_runs > 0.0 {
                at_least(BEFORE_CLIPPING, over_db)
            } else {
                at_least("Turn down", over_db)
            }
        }
        Fact::Damage(damage) => at_least(BEFORE_CLIPPING, damage.over_db),
        Fact::HalvesCancel { sum_gain_energy_db, .. }
            if sum_gain_energy_db == f64::NEG_INFINITY =>
        {
            "Invert one of them.".into()
        }
        Fact::HalvesCancel { .. } => "Check the polarity and the delay of one of them.".into(),
        Fact::RoomWithheld(withheld) => {
            let [above, below] = withheld.takes();
            let low_pass_hz = above.then_some(withheld.high_edge_hz);
            measure_again([low_pass_hz, below.then_some(withheld.low_edge_hz)])
        }
        Fact::LoudnessReadsHidden {
            above_share, below_share, low_edge_hz, high_edge_hz, ..
        } => {
            let above = above_share * K_WEIGHTING_SPREAD >= below_share;
            measure_again([above.then_some(high_edge_hz), (!above).then_some(low_edge_hz)])
        }
        Fact::OverCeiling { true_room_db, room_now_db, .. } => {
            turn_down(true_room_db.min(room_now_db))
        }
        Fact::RoomOverstated { true_room_db, room_now_db, .. } if true_room_db <= -NOTHING_DB => {
            turn_down(true_room_db.min(room_now_db))
        }
        Fact::RoomOverstated { .. } => "Judge the room by the true peak.".into(),
        Fact::AboveTarget { lift_db } => turn_down(lift_db),
        Fact::LiftLimited { lift_allowed_db, .. } if lift_allowed_db < NOTHING_DB => {
            "Limit, or leave the level.".into()
        }
        Fact::LiftLimited { lift_allowed_db, lift_now_db, .. } => {
            lift(lift_allowed_db, lift_now_db)
        }
        Fact::LiftFree { lift_db, lift_now_db, .. } => lift(lift_db, lift_now_db),
        Fact::PeaksMislead(_) => "Judge this sum by RMS or loudness, not by peaks.".into(),
        Fact::LimiterOnHidden { .. } => "Filter the hidden content, measure again.".into(),
        Fact::FlatTops { .. } => "Look for clipping upstream.".into(),
        Fact::Rumble { low_edge_hz, .. } => measure_again([None, Some(low_edge_hz)]),
        Fact::Dc { .. } => "Take the DC offset out at its source.".into(),
        Fact::HalvesIdentical { .. }
        | Fact::HiddenTone { .. }
        | Fact::Silence { .. }
        | Fact::Clean { .. } => return None,
    })
}

fn turn_down(by_db: f64) -> String {
    format!("Turn down by {}.", distance(by_db))
}

/// A peak that only reaches the limit has no distance to it.
fn at_least(turn_down: &str, over_db: f64) -> String {
    if over_db < NOTHING_DB {
        format!("{turn_down}.")
    } else {
        format!("{turn_down} by at least {}.", distance(over_db))
    }
}

/// How far to lift: never further than is safe as the mix stands, unless filters come first.
fn lift(after_db: f64, now_db: f64) -> String {
    let after = distance(after_db);
    if now_db < NOTHING_DB {
        format!("Filter first, then lift by {after}.")
    } else if now_db > after_db - READING_DB {
        format!("Lift by {}.", distance(now_db.min(after_db)))
    } else {
        format!("Lift by {} now, by {after} after filters.", distance(now_db))
    }
}

/// A low-pass at the first edge, a high-pass at the second.
fn measure_again([low_pass_hz, high_pass_hz]: [Option<f64>; 2]) -> String {
    let filters = match (low_pass_hz.map(frequency), high_pass_hz.map(frequency)) {
        (Some(low_pass), Some(high_pass)) => {
            format!("Low-pass at {low_pass}, high-pass at {high_pass}")
        }
        (Some(low_pass), None) => format!("Low-pass at {low_pass}"),
        (None, Some(high_pass)) => format!("High-pass at {high_pass}"),
        (None, None) => "Band-limit the bus".into(),
    };
    format!("{filters}, measure again.")
}
