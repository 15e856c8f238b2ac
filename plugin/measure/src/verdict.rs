//! What there is to say about a reading: a short list of findings, each with the numbers behind it.

mod rules;

pub use crate::finding::{
    Clipped, Code, Fact, Finding, Findings, MOST_FINDINGS, Misleading, Severity, Taker, Withheld,
    thresholds,
};
pub(crate) use rules::judge;
