//! The words of each finding: what separates meter and ear, in twenty words at most. Numbers are
//! written by [`words`](crate::words) alone.

mod clipped;
mod halves;
mod room;

use super::thresholds::{AUDIBLE_OVER_DBTP, NOTHING_DB};
use super::{Clipped, Fact, Finding};
use crate::words::{counted, distance, frequency, moment, share, signed};

/// The finding in plain words.
pub(super) fn of(finding: &Finding) -> String {
    match finding.fact {
        Fact::Silence { silent_s } if silent_s.is_finite() => {
            format!("Silent for {}.", moment(silent_s, 0))
        }
        Fact::Silence { .. } => "No signal yet.".into(),
        Fact::Clean { true_room_db, .. } => room::clean(true_room_db),
        Fact::InvalidInput { frames } => format!(
            "{} with values that are no audio (NaN, infinite or absurdly large), counted as silence.",
            counted(frames as u64, "frame", "frames")
        ),
        Fact::Overs { overs, sample_peak_dbfs, audible_true_peak_dbtp, damage, .. } => {
            self::overs(overs as u64, sample_peak_dbfs, audible_true_peak_dbtp, &damage)
        }
        Fact::Damage(damage) => clipped::over(&damage),
        Fact::HalvesCancel { sum_gain_energy_db, .. } => {
            halves::cancel(finding.halves, sum_gain_energy_db)
        }
        Fact::RoomWithheld(withheld) => room::withheld(&withheld),
        Fact::RoomOverstated { withheld_db, room_db, true_room_db, room_now_db } => {
            room::overstated(withheld_db, room_db, true_room_db, room_now_db)
        }
        Fact::OverCeiling { true_room_db, room_now_db, ceiling_db } => {
            let above = room::above_the_ceiling(true_room_db, room_now_db);
            format!("{above} of {} dBTP.", signed(ceiling_db, 1))
        }
        Fact::PeaksMislead(misleading) => halves::peaks_mislead(finding.halves, &misleading),
        Fact::LimiterOnHidden { hidden_db, whole_db } => format!(
            "A limiter at the ceiling takes down {}, {} of it for hidden content.",
            distance(whole_db),
            distance(hidden_db)
        ),
        Fact::LoudnessReadsHidden { whole_lufs, audible_lufs, .. } => format!(
            "A loudness meter shows {} LUFS; the audible band alone has {} LUFS.",
            signed(whole_lufs, 1),
            signed(audible_lufs, 1)
        ),
        Fact::LiftLimited { lift_db, lift_allowed_db, .. } if lift_allowed_db < NOTHING_DB => {
            format!("The target is {} up, and no audible room is left.", distance(lift_db))
        }
        Fact::LiftLimited { lift_db, lift_allowed_db, .. } => format!(
            "The target is {} up; the audible room allows {} of it.",
            distance(lift_db),
            distance(lift_allowed_db)
        ),
        Fact::LiftFree { lift_db, true_room_db, .. } => format!(
            "The target is {} up, and the audible room of {} allows it.",
            distance(lift_db),
            distance(true_room_db)
        ),
        Fact::AboveTarget { lift_db } => {
            format!("The audible level is {} above the target.", distance(lift_db))
        }
        Fact::HalvesIdentical { correlation, level_difference_db, sides_db, .. } => {
            halves::identical(finding.halves, correlation, level_difference_db, sides_db)
        }
        Fact::HiddenTone { tone_hz, tone_dbfs, .. } => format!(
            "A steady tone at {} ({} dBFS) lies outside the audible band.",
            frequency(tone_hz),
            signed(tone_dbfs, 1)
        ),
        Fact::FlatTops { flat_tops } => format!(
            "{} below full scale, as clipping upstream leaves them, or a square wave.",
            counted(flat_tops as u64, "flat top", "flat tops")
        ),
        Fact::Rumble { below_dbfs, below_share, low_edge_hz } => format!(
            "Below {} there is rumble at {} dBFS, {} of the energy.",
            frequency(low_edge_hz),
            signed(below_dbfs, 1),
            share(Some(below_share), 0)
        ),
        Fact::Dc { dc_dbfs } => {
            format!("The samples have a DC offset of {} dBFS.", signed(dc_dbfs, 1))
        }
    }
}

fn overs(
    overs: u64,
    sample_peak_dbfs: f64,
    audible_true_peak_dbtp: f64,
    damage: &Clipped,
) -> String {
    let counted = counted(overs, "over", "overs");
    if audible_true_peak_dbtp < AUDIBLE_OVER_DBTP {
        format!(
            "{counted}, though the audible true peak is {} dBTP: hidden content makes the rest.",
            signed(audible_true_peak_dbtp, 1)
        )
    } else if damage.clipped_runs.is_nan() {
        clipped::lost(overs, sample_peak_dbfs)
    } else if damage.clipped_runs > 0.0 && damage.limit_dbfs >= 0.0 {
        clipped::over(damage)
    } else {
        format!(
            "{counted}: the bus reaches full scale, up to {} dBFS, where fixed point clips.",
            signed(sample_peak_dbfs, 1)
        )
    }
}
