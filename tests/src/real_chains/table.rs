//! The bench's results as a table.

use std::collections::BTreeMap;

use super::judge::{Judged, Verdict};
use super::kind::Kind;

/// Most kinds of false claims that a row names.
const MOST_NAMED: usize = 4;

/// What came of one kind over all pieces.
pub struct Row<'a> {
    /// The kind.
    pub kind: &'a Kind,
    /// An answer for each piece.
    pub answers: Vec<Judged>,
}

impl Row<'_> {
    /// How many answers are worth that.
    #[must_use]
    pub fn count(&self, verdict: Verdict) -> usize {
        self.answers.iter().filter(|answer| answer.verdict == verdict).count()
    }

    /// The codes that were claimed falsely, with the number of pieces, most frequent first.
    #[must_use]
    pub fn false_claims(&self) -> Vec<(String, usize)> {
        let mut counts = BTreeMap::<String, usize>::new();
        for answer in &self.answers {
            let mut codes: Vec<String> = answer
                .wrong
                .iter()
                .map(|wrong| {
                    let number = if wrong.number.is_some() { " (number)" } else { "" };
                    format!("{}{number}", wrong.code)
                })
                .collect();
            codes.sort();
            codes.dedup();
            for code in codes {
                *counts.entry(code).or_default() += 1;
            }
        }
        let mut counts: Vec<(String, usize)> = counts.into_iter().collect();
        counts.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
        counts
    }
}

/// What a true answer to a kind is: its named sets.
#[must_use]
pub fn true_answer(kind: &Kind) -> String {
    let sets: Vec<String> = kind
        .named
        .iter()
        .map(|set| {
            let codes: Vec<String> = set.iter().map(|code| format!("`{code}`")).collect();
            codes.join(" and ")
        })
        .collect();
    sets.join(" or ")
}

/// A table of all rows, with their sums.
#[must_use]
pub fn written(rows: &[Row]) -> String {
    let columns = [Verdict::Right, Verdict::CannotTell, Verdict::Missed, Verdict::FalseClaim];
    let mut lines = vec![
        "| kind | what was done | a true answer | right | cannot tell | missed | false claim | what \
         was claimed falsely |"
            .to_owned(),
        "|---|---|---|---:|---:|---:|---:|---|".to_owned(),
    ];
    for row in rows {
        let counts = columns.map(|verdict| row.count(verdict).to_string());
        let claims = row.false_claims();
        let mut named: Vec<String> = claims
            .iter()
            .take(MOST_NAMED)
            .map(|(code, count)| format!("`{code}` {count}"))
            .collect();
        if claims.len() > MOST_NAMED {
            named.push("…".to_owned());
        }
        lines.push(format!(
            "| `{}` | {} | {} | {} | {} |",
            row.kind.name,
            row.kind.done,
            true_answer(row.kind),
            counts.join(" | "),
            named.join(", ")
        ));
    }
    let sums = columns.map(|verdict| rows.iter().map(|row| row.count(verdict)).sum::<usize>());
    lines.push(format!(
        "| **all** | {} kinds | | {} | |",
        rows.len(),
        sums.map(|sum| format!("**{sum}**")).join(" | ")
    ));
    lines.join("\n")
}
