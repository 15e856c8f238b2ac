//! How often a check tries what is a matter of chance.

/// Names the long form to the tests: `cargo xtask test --long` sets it.
pub const LONG_VARIABLE: &str = "LEDGERLINE_LONG";

/// So many runs without a failure bound the rate of failures below 5 % with a confidence of 95 %:
/// at that rate, 0.95⁶⁰ = 4.6 % of all sixties would pass.
pub const BELOW_5_PERCENT: u64 = 60;

/// The number of runs: what the claim needs, or the long form's.
#[must_use]
pub fn usual_or_long(usual: u64, long: u64) -> u64 {
    if std::env::var_os(LONG_VARIABLE).is_some() { long } else { usual }
}
