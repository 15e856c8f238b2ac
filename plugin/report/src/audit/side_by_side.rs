//! The sums of several mixers side by side, each against its parts, with what they differ by from the
//! first mixer's: rows of text that the terminal and the page share.

use ledgerline_measure::sum_test::{Audit, NullRecord, SumDifference, names, sum_word};
use ledgerline_measure::words;

/// What the cells mean.
pub const LEGEND: &str = "Level of each sum against its parts added, in dB: 0.00 is a perfect sum. \
                          Differences are from the first mixer, with their uncertainty (95 %); ! \
                          marks those that are certain. Null: what opposite polarities leave against \
                          one channel, which tells how well the channels match; ≤ where noise hides \
                          how deep it is.";

/// Rows of text, the first of them the headings: a sum, a column a mixer, and behind every mixer but
/// the first its difference. Empty where nothing was compared.
#[must_use]
pub fn rows(audits: &[Audit]) -> Vec<(String, Vec<String>)> {
    let is_compared = |step: &usize| audits.iter().any(|audit| difference(audit, *step).is_some());
    let steps: Vec<usize> = (1..=7).filter(is_compared).collect();
    if steps.is_empty() {
        return Vec::new();
    }
    let mut rows =
        vec![("sum of".to_owned(), beside(&names(audits), audits, |_| "difference".into()))];
    for step in steps {
        let own: Vec<String> = audits.iter().map(|audit| gain(audit, step)).collect();
        let apart = |audit: &Audit| difference(audit, step).map_or_else(nothing, shown);
        rows.push((sum_word(step).to_owned(), beside(&own, audits, apart)));
    }
    if audits.iter().any(|audit| audit.null.is_some()) {
        let own: Vec<String> =
            audits.iter().map(|audit| audit.null.as_ref().map_or_else(nothing, depth)).collect();
        rows.push(("null".to_owned(), beside(&own, audits, null_difference)));
    }
    rows
}

/// A cell a mixer, and behind every one but the first another.
fn beside(own: &[String], audits: &[Audit], apart: impl Fn(&Audit) -> String) -> Vec<String> {
    let mut cells = Vec::new();
    for (place, (own, audit)) in own.iter().zip(audits).enumerate() {
        cells.push(own.clone());
        cells.extend((place > 0).then(|| apart(audit)));
    }
    cells
}

fn nothing() -> String {
    "–".to_owned()
}

fn gain(audit: &Audit, step: usize) -> String {
    let own = audit.sums.iter().find(|sum| sum.step == step);
    own.map_or_else(nothing, |sum| words::signed(sum.gain_db, 2))
}

fn difference(audit: &Audit, step: usize) -> Option<&SumDifference> {
    audit.against.as_ref()?.sums.iter().find(|sum| sum.step == step)
}

fn shown(sum: &SumDifference) -> String {
    let mark = if sum.is_told() { '!' } else { ' ' };
    let difference = words::signed(sum.difference_db, 2);
    format!("{difference} ± {}{mark}", words::uncertainty(sum.uncertainty_db))
}

fn null_difference(audit: &Audit) -> String {
    let null = audit.against.as_ref().and_then(|against| against.null);
    null.map_or_else(nothing, |null| {
        let within = words::uncertainty(null.uncertainty_db);
        format!("{} ± {within} ", words::signed(null.difference_db, 2))
    })
}

fn depth(null: &NullRecord) -> String {
    let at_most = if null.may_be_deeper() { "≤ " } else { "" };
    format!("{at_most}{}", words::level(null.depth_db, 2))
}
