//! What a comparison said of a chain, held against what is true.
//!
//! A finding that is neither named nor allowed is a false claim, whatever else is said; so is a
//! number of a finding that misses. Only then does it count whether a named set is complete.

use std::fmt;

use serde_json::Value;

use super::kind::{Facts, Kind};

/// Findings that are readings of the two files, side by side: they say what changed and not what was
/// done.
pub const READINGS: [&str; 3] = ["loudness", "true_peak", "hidden"];

/// Findings that claim nothing.
pub const CANNOT_TELL: [&str; 4] =
    ["something_else", "unexplained", "delay_ambiguous", "too_short"];

/// By how much a gain may miss, in dB.
const GAIN_DB: f64 = 0.02;
/// By how much a delay may miss, in samples.
const DELAY_SAMPLES: f64 = 0.02;
/// By how much a gain of a matrix may miss, linear.
const COEFFICIENT: f64 = 0.01;

/// What an answer is worth.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// What was done is named, and nothing else.
    Right,
    /// Not named, and the answer says that it cannot tell.
    CannotTell,
    /// Not named, or not all of it.
    Missed,
    /// Something is claimed that is not so.
    FalseClaim,
}

impl fmt::Display for Verdict {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str(match self {
            Self::Right => "right",
            Self::CannotTell => "cannot tell",
            Self::Missed => "missed",
            Self::FalseClaim => "FALSE CLAIM",
        })
    }
}

/// An answer, judged.
#[derive(Debug, Clone)]
pub struct Judged {
    /// What it is worth.
    pub verdict: Verdict,
    /// Codes of all findings.
    pub found: Vec<String>,
    /// Claims that are false: a code, or a code with the number that misses.
    pub wrong: Vec<Wrong>,
}

/// A false claim.
#[derive(Debug, Clone)]
pub struct Wrong {
    /// The finding's code.
    pub code: String,
    /// The number that misses and what it should be; `None` where the finding itself is wrong.
    pub number: Option<String>,
}

/// Judges the record of a comparison (`ledgerline.compare/1`).
#[must_use]
pub fn judge(kind: &Kind, facts: &Facts, record: &Value) -> Judged {
    let findings = record["findings"].as_array().map_or(&[][..], Vec::as_slice);
    let found: Vec<String> =
        findings.iter().filter_map(|finding| Some(finding["code"].as_str()?.to_owned())).collect();
    let wrong: Vec<Wrong> =
        findings.iter().flat_map(|finding| wrong(kind, facts, record, finding)).collect();
    let has = |code: &&str| found.iter().any(|found| found == code);
    let verdict = if !wrong.is_empty() {
        Verdict::FalseClaim
    } else if kind.named.iter().any(|set| set.iter().all(has)) {
        Verdict::Right
    } else if CANNOT_TELL.iter().any(has) || found.is_empty() {
        Verdict::CannotTell
    } else {
        Verdict::Missed
    };
    Judged { verdict, found, wrong }
}

/// What is wrong with a finding.
fn wrong(kind: &Kind, facts: &Facts, record: &Value, finding: &Value) -> Vec<Wrong> {
    let code = finding["code"].as_str().unwrap_or_default();
    let numbers = &finding["numbers"];
    let misses: Vec<String> = numbers_that_miss(code, facts, numbers)
        .into_iter()
        .chain(matrix_that_misses(code, facts, record))
        .collect();
    if !misses.is_empty() {
        let number = |number| Wrong { code: code.to_owned(), number: Some(number) };
        return misses.into_iter().map(number).collect();
    }
    if is_allowed(kind, facts, code) {
        return Vec::new();
    }
    vec![Wrong { code: code.to_owned(), number: None }]
}

/// Whether a finding is true of such a chain, its numbers apart. Those of gain, delay and speed are
/// true wherever their numbers are.
fn is_allowed(kind: &Kind, facts: &Facts, code: &str) -> bool {
    let measured = match code {
        "gain" | "delay" => true,
        "drift" | "speed" => facts.speed_percent.0 != 0.0,
        _ => false,
    };
    measured
        || READINGS.contains(&code)
        || CANNOT_TELL.contains(&code)
        || kind.allowed.contains(&code)
        || kind.named.iter().any(|set| set.contains(&code))
}

fn numbers_that_miss(code: &str, facts: &Facts, numbers: &Value) -> Vec<String> {
    let mut misses = Vec::new();
    let mut hold = |name: &str, expected: &[f64], within: f64| {
        if let Some(given) = numbers[name].as_f64()
            && !expected.is_empty()
            && expected.iter().all(|expected| (given - expected).abs() > within)
        {
            let expected: Vec<String> = expected.iter().map(|x| format!("{x:.4}")).collect();
            misses.push(format!("{name} {given:.4} for {}", expected.join(" or ")));
        }
    };
    let (percent, within) = facts.speed_percent;
    match code {
        // A gain that is told to a tenth of a dB says so.
        "gain" => {
            let error_db = numbers["error_db"].as_f64().unwrap_or(0.0);
            hold("gain_db", facts.gain_db.as_slice(), GAIN_DB.max(error_db));
        }
        "delay" => hold("delay_samples", &facts.delays_samples, DELAY_SAMPLES),
        "drift" | "speed" => {
            hold("speed_percent", &[percent], within);
            let ppm = (1.0 / (1.0 + percent / 100.0) - 1.0) * 1e6;
            hold("drift_ppm", &[ppm], within * 1e4);
        }
        _ => {}
    }
    for number in facts.numbers.iter().filter(|number| number.code == code) {
        hold(number.name, &number.values, number.within);
    }
    misses
}

/// A matrix that is claimed and misses.
fn matrix_that_misses(code: &str, facts: &Facts, record: &Value) -> Option<String> {
    let expected = facts.matrix.as_ref()?;
    if !["channels_changed", "downmix", "channel_order", "channel_missing"].contains(&code) {
        return None;
    }
    for (row, expected) in expected.iter().enumerate() {
        for (column, expected) in expected.iter().enumerate() {
            let given = record["channel_gains"][row][column].as_f64()?;
            if (given - expected).abs() > COEFFICIENT {
                return Some(format!(
                    "channel {} in {}: {given:.3} for {expected:.3}",
                    column + 1,
                    row + 1
                ));
            }
        }
    }
    None
}
