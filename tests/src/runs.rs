//! How often a check tries what is a matter of chance.

use std::sync::atomic::{AtomicU64, Ordering};

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

/// Runs `one` for each number below `count`, on every core, in any order.
pub fn on_every_core(count: u64, one: impl Fn(u64) + Sync) {
    let next = AtomicU64::new(0);
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(2, usize::from) {
            scope.spawn(|| {
                loop {
                    let number = next.fetch_add(1, Ordering::Relaxed);
                    if number >= count {
                        break;
                    }
                    one(number);
                }
            });
        }
    });
}
