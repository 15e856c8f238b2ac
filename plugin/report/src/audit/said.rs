//! What an audit says, in the order in which the terminal and the page say it: the answer, what else
//! was found, what to do. Nothing is said twice.

use ledgerline_measure::sum_test::{Against, Audit, Fault, Grade, Verdict};
use ledgerline_measure::verdict::Severity;
use ledgerline_measure::words;

/// How much the answer matters.
#[must_use]
pub fn severity(audit: &Audit) -> Severity {
    match audit.verdict {
        Verdict::SumsCorrectly if !audit.is_within_limits() => Severity::Caution,
        Verdict::SumsCorrectly => Severity::Clear,
        Verdict::Faulty => Severity::Fault,
        Verdict::CannotTell => Severity::Caution,
    }
}

/// The answer; of a mixer that sums correctly, with what lies outside its limits.
#[must_use]
pub fn answer(audit: &Audit) -> String {
    let outside: Vec<&str> = audit
        .grades
        .iter()
        .filter(|grade| !grade.within && audit.verdict == Verdict::SumsCorrectly)
        .map(|grade| grade.code.word())
        .collect();
    if outside.is_empty() {
        return audit.headline.clone();
    }
    let limits = match audit.limits.name {
        "own" => "limits",
        "analogue" => "analogue limits",
        _ => "digital limits",
    };
    format!("{} Outside the {limits}: {}.", audit.headline, words::list(&outside))
}

/// What else was found, what was graded and needs nothing done, and what the recording does not tell.
#[must_use]
pub fn others(audit: &Audit) -> Vec<(Severity, String)> {
    let severity =
        |fault: &Fault| if fault.code.spoils_sum() { Severity::Fault } else { Severity::Note };
    let faults = audit.faults.iter().filter(|fault| fault.sentence != audit.headline);
    let faults = faults.map(|fault| (severity(fault), fault.sentence.clone()));
    let is_told = |grade: &&Grade| grade.told && grade.action.is_none();
    let grades = audit.grades.iter().filter(is_told);
    let grades = grades.map(|grade| (Severity::Note, grade.sentence.clone()));
    let not_judged = audit.not_judged.iter().map(|sentence| (Severity::Note, sentence.clone()));
    faults.chain(grades).chain(not_judged).collect()
}

/// What to do, the worst first; nothing where nobody can say what.
#[must_use]
pub fn actions(audit: &Audit) -> Vec<String> {
    let of_faults = audit.faults.iter().filter_map(|fault| fault.action.map(str::to_owned));
    of_faults.chain(audit.grades.iter().filter_map(|grade| grade.action.clone())).collect()
}

/// A word for how two mixers compare, and how much it matters.
#[must_use]
pub fn outcome(against: &Against) -> (Severity, &'static str) {
    match against.alike {
        Some(true) => (Severity::Clear, "Alike"),
        Some(false) => (Severity::Caution, "Different"),
        None => (Severity::Caution, "Cannot tell"),
    }
}
