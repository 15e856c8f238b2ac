//! What to do about a reading, in the order in which to do it: the lines of its findings.

use ledgerline_measure::reading::Reading;
use ledgerline_measure::verdict::Code;

/// Steps to take, none twice.
pub(super) fn steps(reading: &Reading) -> Vec<String> {
    let findings = reading.findings.as_slice().iter();
    let steps = findings.filter_map(|finding| Some((place(finding.code), finding.action()?)));
    let mut steps: Vec<(u8, String)> = steps.collect();
    // What changes the signal comes before what sets its level.
    steps.sort_by_key(|(place, _)| *place);
    let mut lines: Vec<String> = vec![];
    for (_, step) in steps {
        if !lines.contains(&step) {
            lines.push(step);
        }
    }
    lines
}

/// 0 repair, 1 filter, 2 level, 3 judge.
fn place(code: Code) -> u8 {
    match code {
        Code::InvalidInput | Code::HalvesCancel | Code::FlatTops => 0,
        Code::RoomWithheld
        | Code::LimiterOnHidden
        | Code::LoudnessReadsHidden
        | Code::HiddenTone
        | Code::Rumble
        | Code::Dc => 1,
        Code::Overs
        | Code::Damage
        | Code::OverCeiling
        | Code::RoomOverstated
        | Code::LiftLimited
        | Code::LiftFree
        | Code::AboveTarget => 2,
        Code::PeaksMislead | Code::HalvesIdentical | Code::Silence | Code::Clean => 3,
    }
}
