//! The `ledgerline` command, run in process on words as they would be typed.

use clap::Parser;
use ledgerline_cli::{Command, Outcome, run};
use serde_json::Value;

/// Runs the command and returns how it ended and what it printed, without colours.
///
/// # Panics
///
/// When the words cannot be parsed.
pub fn ledgerline(words: &[&str]) -> (Outcome, String) {
    let words = std::iter::once("ledgerline").chain(words.iter().copied());
    let command = Command::try_parse_from(words).expect("words that the command takes");
    let mut out = anstream::StripStream::new(Vec::new());
    let outcome = run(&command, &mut out);
    (outcome, String::from_utf8(out.into_inner()).expect("text"))
}

/// Runs the command with `--json` and returns its records, one a line.
///
/// # Panics
///
/// When the words cannot be parsed, or a line is no JSON.
pub fn records(words: &[&str]) -> (Outcome, Vec<Value>) {
    let (outcome, text) = ledgerline(&[words, &["--json"]].concat());
    let parse = |line| serde_json::from_str(line).unwrap_or_else(|e| panic!("{e} in {line}"));
    (outcome, text.lines().map(parse).collect())
}
