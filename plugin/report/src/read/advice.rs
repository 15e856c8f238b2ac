//! What to do about a reading, in the order in which to do it. The findings' own sentences say what
//! is so; these say what follows.

use ledgerline_measure::Edges;
use ledgerline_measure::reading::Reading;
use ledgerline_measure::verdict::thresholds::{AUDIBLE_OVER_DBTP, LEAST_SHARE, NOTHING_DB};
use ledgerline_measure::verdict::{Fact, Finding};
use ledgerline_measure::words::{self, distance};

/// Steps to take, none twice.
pub(super) fn steps(reading: &Reading, edges: Edges) -> Vec<String> {
    let mut steps: Vec<(u8, String)> = vec![];
    for finding in reading.findings.as_slice() {
        if let Some(step) = step(finding, reading, edges)
            && !steps.contains(&step)
        {
            steps.push(step);
        }
    }
    // What changes the signal comes before what sets its level.
    steps.sort_by_key(|(place, _)| *place);
    steps.into_iter().map(|(_, step)| step).collect()
}

/// A step and its place: 0 repair, 1 filter, 2 level, 3 judge.
fn step(finding: &Finding, reading: &Reading, edges: Edges) -> Option<(u8, String)> {
    Some(match finding.fact {
        Fact::InvalidInput { .. } => (0, "Find what writes values that are no audio.".into()),
        Fact::HalvesCancel { .. } => {
            (0, "Check the polarity and the delay of one half against the other.".into())
        }
        Fact::Overs { audible_true_peak_dbtp, .. }
            if audible_true_peak_dbtp >= AUDIBLE_OVER_DBTP =>
        {
            (2, "Turn down, so that nothing reaches full scale.".into())
        }
        Fact::Overs { .. }
        | Fact::RoomWithheld(_)
        | Fact::LimiterOnHidden { .. }
        | Fact::LoudnessReadsHidden { .. } => (1, filter(reading, edges)),
        Fact::Dc { .. } => (1, "Take the DC offset out at its source.".into()),
        Fact::OverCeiling { true_room_db, ceiling_db } => (
            2,
            format!(
                "Turn down by {} to stay under the ceiling of {} dBTP.",
                distance(true_room_db),
                words::fixed(ceiling_db, 1)
            ),
        ),
        Fact::LiftLimited { lift_allowed_db, .. } if lift_allowed_db < NOTHING_DB => {
            (2, "Leave the level, or limit: no audible room is left to lift it.".into())
        }
        Fact::LiftLimited { lift_db, lift_allowed_db } => (
            2,
            format!(
                "Lift by up to {}; the target is {} up, and only a limiter leads there.",
                distance(lift_allowed_db),
                distance(lift_db)
            ),
        ),
        Fact::LiftFree { lift_db, .. } => {
            (2, format!("Lift by {} to reach the target.", distance(lift_db)))
        }
        Fact::AboveTarget { lift_db } => {
            (2, format!("Turn down by {} to meet the target.", distance(lift_db)))
        }
        Fact::PeaksMislead(_) => {
            (3, "Judge the sum of the halves by RMS or loudness, not by its peaks.".into())
        }
        Fact::RoomOverstated { .. } => {
            (3, "Judge the room by the true peak, not by the largest sample.".into())
        }
        Fact::HalvesIdentical { .. }
        | Fact::HiddenTone { .. }
        | Fact::FlatTops { .. }
        | Fact::Rumble { .. }
        | Fact::Silence {}
        | Fact::Clean { .. } => return None,
    })
}

/// Which side of the audible band to filter.
fn filter(reading: &Reading, edges: Edges) -> String {
    let hidden = &reading.hidden;
    // The same shares as in the sentence of withheld room.
    let above = hidden.above_share.unwrap_or(0.0);
    let below = hidden.below_share.unwrap_or(0.0) + hidden.dc_share.unwrap_or(0.0);
    let (low, high) = (words::frequency(edges.low_hz()), words::frequency(edges.high_hz()));
    match (below >= LEAST_SHARE, above >= LEAST_SHARE) {
        (true, true) => {
            format!("High-pass at {low} and low-pass at {high}, best at the source.")
        }
        (true, false) => format!("High-pass at {low}, best at the source."),
        _ => format!("Low-pass at {high}, best at the source."),
    }
}
