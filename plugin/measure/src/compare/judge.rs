//! From numbers to words: findings, verdict, the one sentence, and what lies outside the tolerances.

mod outside;
mod rules;
mod verdict;
mod words;

use super::align::Aligned;
use super::explain::Stories;
use super::finding::{Code, Finding};
use super::pass::Passed;
use super::record::{Comparison, Verdict};
use super::stretches::Stretches;
use crate::verdict::Severity;

/// A finding, and the few words that stand for it in the one sentence; empty if it is not worth a
/// place there.
pub(super) struct Said {
    finding: Finding,
    phrase: String,
}

/// Why two files were not laid over each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Apart {
    /// One or both are silent.
    Silent,
    /// There is too little sound.
    TooShort,
    /// Their courses of level agree, at a speed, and their samples do not.
    Roughly { speed: f64, likeness: f64 },
    /// Nothing in them agrees.
    NotTheSame,
}

/// Judges an aligned comparison.
pub(super) fn judge(
    record: &mut Comparison,
    aligned: &Aligned,
    passed: &Passed,
    stretches: &Stretches,
    stories: &Stories,
) {
    let facts = rules::Facts::of(record, aligned, passed, stretches, stories);
    record.verdict = verdict::of(record, &facts);
    let mut said = rules::all(record, &facts);
    said.sort_by_key(|said| (std::cmp::Reverse(said.finding.severity), said.finding.code));
    record.sentence = verdict::sentence(record, &said);
    record.findings = said.into_iter().map(|said| said.finding).collect();
    record.outside = outside::of(record);
    record.within = record.outside.is_empty();
}

/// Judges files that could not be laid over each other.
pub(super) fn apart(record: &mut Comparison, why: Apart) {
    let said = words::apart(record, why);
    record.verdict = Verdict::CannotTell;
    record.sentence = said.finding.sentence.clone();
    record.outside = vec![record.sentence.clone()];
    record.findings = vec![said.finding];
    if let Some(invalid) = rules::invalid(record) {
        record.findings.push(invalid.finding);
    }
    record.within = false;
}

/// A finding with its numbers; those that are not finite are left out.
fn said(
    code: Code,
    severity: Severity,
    phrase: impl Into<String>,
    sentence: impl Into<String>,
    numbers: &[(&'static str, f64)],
) -> Said {
    let numbers = numbers.iter().copied().filter(|(_, number)| number.is_finite()).collect();
    let finding = Finding { code, severity, sentence: sentence.into(), numbers };
    Said { finding, phrase: phrase.into() }
}
