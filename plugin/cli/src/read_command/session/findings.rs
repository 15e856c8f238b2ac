//! What the full readings of a log find: each kind once, as it was when it mattered most.

use ledgerline_measure::verdict::Severity;
use ledgerline_report::session::LoggedFinding;
use ledgerline_report::utc::Utc;
use serde_json::Value;

use super::text;

/// Takes the findings of a full reading into those so far.
pub(super) fn take(findings: &mut Vec<LoggedFinding>, reading: &Value, at: Utc) {
    for finding in reading["findings"].as_array().into_iter().flatten() {
        let Some(severity) = severity(&finding["severity"]) else { continue };
        let (code, sentence) = (text(&finding["code"]), text(&finding["sentence"]));
        if severity == Severity::Clear || code.is_empty() {
            continue;
        }
        let found = LoggedFinding { code, severity, sentence, at };
        match findings.iter_mut().find(|known| known.code == found.code) {
            Some(known) if found.severity > known.severity => *known = found,
            Some(_) => {}
            None => findings.push(found),
        }
    }
}

fn severity(of: &Value) -> Option<Severity> {
    let all = [Severity::Clear, Severity::Note, Severity::Caution, Severity::Fault];
    all.into_iter().find(|severity| of.as_str() == Some(&severity.word().to_lowercase()))
}
