//! From numbers to words: findings, verdict, the one sentence, and what lies outside the tolerances.

mod advice;
mod concern;
mod outside;
mod rules;
mod verdict;
mod words;

use super::align::Aligned;
use super::assemble::Found;
use super::finding::{Code, Concern, Finding};
use super::record::{Comparison, Verdict};
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
    /// They share sound, and most of the export's power is not the mix's.
    Shared { share: f64 },
    /// Nothing in them agrees.
    NotTheSame,
}

/// Judges an aligned comparison.
pub(super) fn judge(record: &mut Comparison, aligned: &Aligned, found: &Found) {
    let Found { passed, stretches, stories, .. } = found;
    let facts = rules::Facts::of(record, aligned, passed, stretches, stories);
    let said = settled(rules::all(record, &facts), record);
    record.verdict = verdict::of(record, &facts, &said);
    record.sentence = verdict::sentence(record, &said);
    record.findings = said.iter().map(|said| said.finding.clone()).collect();
    record.outside = outside::of(record, &said);
    record.within = record.outside.is_empty();
}

/// Judges files that could not be laid over each other.
pub(super) fn apart(record: &mut Comparison, why: Apart) {
    let said = words::apart(record, why);
    record.verdict = Verdict::CannotTell;
    record.sentence = said.finding.sentence.clone();
    record.outside = vec![record.sentence.clone()];
    let mut all = vec![said];
    all.extend(rules::invalid(record));
    record.findings = settled(all, record).into_iter().map(|said| said.finding).collect();
    record.within = false;
}

/// Findings with what they concern and what to do about them, in the order in which they are told:
/// by how much they matter, what is audible before what is not, and what is hidden last.
fn settled(mut said: Vec<Said>, record: &Comparison) -> Vec<Said> {
    for Said { finding, .. } in &mut said {
        finding.concerns = concern::of(finding, record);
        finding.advice = advice::of(finding, record);
    }
    said.sort_by_key(|Said { finding, .. }| {
        let is_hidden = finding.concerns == Concern::Hidden;
        (is_hidden, std::cmp::Reverse(finding.severity), finding.concerns, finding.code)
    });
    said
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
    let finding = Finding {
        code,
        severity,
        // Settled once everything is known.
        concerns: Concern::Audible,
        sentence: sentence.into(),
        advice: None,
        numbers,
    };
    Said { finding, phrase: phrase.into() }
}
