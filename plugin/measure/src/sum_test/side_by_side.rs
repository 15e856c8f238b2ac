//! Two mixers side by side: whether they add alike, in words.

use std::path::Path;

use super::added::SumRecord;
use super::against::{ALIKE_DB, Against, NullDifference, SumDifference};
use super::record::{Audit, Verdict};
use crate::words::{fixed, list, uncertainty};

/// Nulls whose depths differ by less than this, in dB, are not told apart.
const NULLS_DB: f64 = 3.0;
/// So many differences are named in a sentence.
const NAMED: usize = 2;

/// What recordings are called side by side: their files' names without what follows the last dot, and
/// the whole paths where those would not tell them apart.
#[must_use]
pub fn names(audits: &[Audit]) -> Vec<String> {
    let path =
        |audit: &Audit| audit.recording.path.clone().unwrap_or_else(|| "recording".to_owned());
    let stem = |audit: &Audit| -> String {
        let path = path(audit);
        let stem = Path::new(&path).file_stem().map(|stem| stem.to_string_lossy().into_owned());
        stem.unwrap_or(path)
    };
    let stems: Vec<String> = audits.iter().map(stem).collect();
    let is_own = |stem: &String| stems.iter().filter(|other| *other == stem).count() == 1;
    if stems.iter().all(is_own) { stems } else { audits.iter().map(path).collect() }
}

/// Holds every recording but the first against the first.
pub fn compare_with_first(audits: &mut [Audit]) {
    let names = names(audits);
    let Some((reference, others)) = audits.split_first_mut() else { return };
    for (other, name) in others.iter_mut().zip(&names[1..]) {
        other.against = Some(against(reference, other, [&names[0], name]));
    }
}

fn against(reference: &Audit, other: &Audit, names: [&str; 2]) -> Against {
    let [of, to] = names;
    let mut found = Against {
        schema: "ledgerline.audit_comparison/1",
        reference: reference.recording.path.clone(),
        alike: None,
        within_db: None,
        limit_db: ALIKE_DB,
        sums: Vec::new(),
        null: None,
        sentence: String::new(),
    };
    if let Some(why) = why_not([reference, other], names) {
        found.sentence = format!("{of} and {to} are not compared: {why}.");
        return found;
    }
    let pair = |record: &SumRecord| {
        let same = other.sums.iter().find(|own| own.step == record.step)?;
        Some(SumDifference::of(record, same))
    };
    found.sums = reference.sums.iter().filter_map(pair).collect();
    found.null = reference
        .null
        .as_ref()
        .zip(other.null.as_ref())
        .and_then(|(reference, other)| NullDifference::of(reference, other));
    let most_db = found.sums.iter().map(SumDifference::most_db).fold(0.0, f64::max);
    let mut different: Vec<&SumDifference> =
        found.sums.iter().filter(|sum| sum.is_told()).collect();
    different.sort_by(|x, y| y.difference_db.abs().total_cmp(&x.difference_db.abs()));
    found.within_db = (!found.sums.is_empty()).then_some(most_db);
    let within = uncertainty(most_db);
    (found.alike, found.sentence) = if found.sums.is_empty() {
        let sentence = format!("{of} and {to} are not compared: no sum is in both recordings.");
        (None, sentence)
    } else if most_db <= ALIKE_DB {
        (Some(true), format!("{of} and {to} add alike within {within} dB."))
    } else if different.is_empty() {
        let sentence = format!(
            "No difference between {of} and {to} is certain: their sums agree within {within} dB, and \
             the recordings tell no finer."
        );
        (None, sentence)
    } else {
        (Some(false), differently(&different, names))
    };
    found.sentence.push_str(&nulls(reference, other, found.null, names));
    found
}

/// What keeps two recordings from being compared.
fn why_not(audits: [&Audit; 2], names: [&str; 2]) -> Option<String> {
    let undecided: Vec<&str> = audits
        .iter()
        .zip(names)
        .filter(|(audit, _)| audit.verdict == Verdict::CannotTell)
        .map(|(_, name)| name)
        .collect();
    if !undecided.is_empty() {
        return Some(format!("{} cannot be judged", list(&undecided)));
    }
    let [one, two] = audits.map(|audit| audit.test.form);
    (one != two).then(|| "one holds the full test and the other the short one".to_owned())
}

fn differently(different: &[&SumDifference], [of, to]: [&str; 2]) -> String {
    let clause = |(place, sum): (usize, &&SumDifference)| {
        format!(
            "{} {} lies {} dB {} (± {} dB)",
            if place == 0 { "the sum of" } else { "that of" },
            sum_word(sum.step),
            fixed(sum.difference_db.abs(), 2),
            if sum.difference_db > 0.0 { "higher" } else { "lower" },
            uncertainty(sum.uncertainty_db)
        )
    };
    let mut clauses: Vec<String> = different.iter().take(NAMED).enumerate().map(clause).collect();
    if different.len() > NAMED {
        clauses.push("others differ less".to_owned());
    }
    format!("{of} and {to} add differently: in {to}, against its parts, {}.", list(&clauses))
}

/// What is added in the step of a number.
#[must_use]
pub fn sum_word(step: usize) -> &'static str {
    match step {
        3 => "the same noise",
        4 => "the same noise, one inverted",
        5 => "independent noises",
        6 => "independent noises, one inverted",
        7 => "the same noise, 100 ms late",
        _ => "other sounds",
    }
}

/// What is to be said of the nulls: they tell how well the channels match.
fn nulls(
    reference: &Audit,
    other: &Audit,
    difference: Option<NullDifference>,
    [of, to]: [&str; 2],
) -> String {
    let is_far = |own: &NullDifference| own.difference_db.abs() - own.uncertainty_db > NULLS_DB;
    let depths = reference.null.zip(other.null).filter(|_| difference.as_ref().is_some_and(is_far));
    depths.map_or_else(String::new, |(one, two)| {
        format!(
            " Opposite polarities leave {:.1} dB in {of} and {:.1} dB in {to}, which tells how well \
             the channels match and not how they add.",
            one.depth_db, two.depth_db
        )
    })
}
