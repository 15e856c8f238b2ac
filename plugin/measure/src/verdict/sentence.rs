//! The words of each finding: what separates meter and ear, and what to do. Numbers are written by
//! [`words`](crate::words) alone.

mod halves;
mod room;

use super::finding::{Code, Finding};
use crate::words::{counted, distance, fixed, frequency, share, signed};

/// What one decimal shows as nothing.
const NOTHING_DB: f64 = 0.05;

/// The finding in plain words.
pub(super) fn of(finding: &Finding) -> String {
    let n = |name: &str| finding.number(name);
    match finding.code {
        Code::Silence => "No signal yet.".into(),
        Code::Clean => room::clean(n("true_room_db")),
        Code::InvalidInput => format!(
            "{} values that are no audio (NaN, infinite or absurdly large) and count as silence \
             here: find what makes them ahead of this insert.",
            counted(n("frames") as u64, "frame holds", "frames hold")
        ),
        Code::Overs => overs(finding),
        Code::HalvesCancel => halves::cancel(finding),
        Code::RoomWithheld => room::withheld(finding),
        Code::RoomOverstated => room::overstated(finding),
        Code::OverCeiling => format!(
            "The audible true peak lies {} above the ceiling of {} dBTP: turn down by that much.",
            distance(n("true_room_db")),
            signed(n("ceiling_db"), 1)
        ),
        Code::PeaksMislead => halves::peaks_mislead(finding),
        Code::LimiterOnHidden => format!(
            "A limiter at the ceiling would take down {}, {} of it for inaudible content.",
            distance(n("whole_db")),
            distance(n("hidden_db"))
        ),
        Code::LoudnessReadsHidden => format!(
            "A loudness meter on the whole band shows {} LUFS, {} LU more than the {} LUFS of the \
             audible band.",
            signed(n("whole_lufs"), 1),
            fixed(n("over_lu"), 1),
            signed(n("audible_lufs"), 1)
        ),
        Code::LiftLimited if n("lift_allowed_db") < NOTHING_DB => format!(
            "The target is {} up, and there is no audible room to go there without a limiter.",
            distance(n("lift_db"))
        ),
        Code::LiftLimited => format!(
            "The target is {} up; the audible room allows {} of it.",
            distance(n("lift_db")),
            distance(n("lift_allowed_db"))
        ),
        Code::LiftFree => format!(
            "The target is {} up, and the audible room of {} allows it.",
            distance(n("lift_db")),
            distance(n("true_room_db"))
        ),
        Code::AboveTarget => {
            format!("The audible level is {} above the target.", distance(n("lift_db")))
        }
        Code::HalvesIdentical => halves::identical(finding),
        Code::HiddenTone => format!(
            "A steady tone at {} ({} dBFS) lies outside the audible band.",
            frequency(n("tone_hz")),
            signed(n("tone_dbfs"), 1)
        ),
        Code::FlatTops => format!(
            "{} below full scale: the waveform stands still at its peaks, as clipping upstream \
             leaves it, or a square wave.",
            counted(n("flat_tops") as u64, "flat top", "flat tops")
        ),
        Code::Rumble => format!(
            "Below {} there is rumble at {} dBFS, {} of the energy.",
            frequency(n("low_edge_hz")),
            signed(n("below_dbfs"), 1),
            share(Some(n("below_share")), 0)
        ),
        Code::Dc => format!("The samples have a DC offset of {} dBFS.", signed(n("dc_dbfs"), 1)),
    }
}

fn overs(finding: &Finding) -> String {
    let n = |name: &str| finding.number(name);
    let counted = counted(n("overs") as u64, "over", "overs");
    if n("audible_true_peak_dbtp") < -1.0 {
        format!(
            "{counted}: the bus reaches full scale, though the audible true peak is {} dBTP. The \
             rest is hidden content: take it out at its source.",
            signed(n("audible_true_peak_dbtp"), 1)
        )
    } else {
        format!(
            "{counted}: the bus reaches full scale ({} dBFS) and clips wherever it becomes a \
             fixed-point file or signal. {}.",
            signed(n("sample_peak_dbfs"), 1),
            lower(n("sample_peak_dbfs"))
        )
    }
}

/// What to do about a peak that lies so far over.
fn lower(over_db: f64) -> String {
    if over_db < NOTHING_DB {
        "Turn down".into()
    } else {
        format!("Turn down by at least {}", distance(over_db))
    }
}
