//! The vector loops' slow twins: what each works out, written as its formula, in double precision and
//! one value after the other. And signals, most of them unkind, on which loop and twin have to agree.
//!
//! A twin knows nothing of the loops: it takes and gives plain numbers. The tests beside the loops say
//! how near the two have to come, and why no nearer.

pub(crate) mod biquad;
pub(crate) mod energy;
pub(crate) mod filter;
pub(crate) mod fourier;
pub(crate) mod peak;
pub(crate) mod signals;

use proptest::test_runner::{Config, RngSeed};

/// Largest relative error of one rounded operation in single precision.
pub(crate) const ROUNDING: f64 = f32::EPSILON as f64 / 2.0;

/// Largest error of one operation in single precision whose result is denormal.
pub(crate) const UNDERFLOW: f64 = 0.7e-45;

/// How often a property is tried, each time on the same signals, so that runs repeat.
pub(crate) fn tries(cases: u32) -> Config {
    Config {
        cases,
        failure_persistence: None,
        rng_seed: RngSeed::Fixed(0x5ca1a2),
        ..Config::default()
    }
}
