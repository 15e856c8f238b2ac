//! What there is to say about a reading: a short list of findings, each with the numbers behind it.

mod finding;
mod rules;
mod sentence;

pub use finding::{Code, Finding, Findings, MOST_FINDINGS, Severity};
pub(crate) use rules::judge;
