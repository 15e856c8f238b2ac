//! Damaged files of every container, read in process. `cargo xtask fuzz` reads many more.

use ledgerline_tests::alone::alone;
use ledgerline_tests::fuzz::{Plan, run};
use ledgerline_tests::runs;

/// Over a hundred from each seed. None that fails among so many bounds the rate of such files below
/// one in a thousand with a confidence of 95 %: 0.999³⁰⁰⁰ = 5 %.
const INPUTS: u64 = 3000;
const LONG_INPUTS: u64 = 10_000;

/// Alone, since the memory of the whole process is watched.
#[test]
fn damaged_files_neither_panic_nor_hang_nor_take_memory() {
    alone(|_| {
        let inputs = runs::usual_or_long(INPUTS, LONG_INPUTS);
        let report = run(&Plan { inputs, seed: 1, threads: 2 }).expect("the seeds are there");
        assert!(report.failures.is_empty(), "{:#?}", report.failures);
        assert_eq!(report.inputs, inputs);
        // A check that every file is refused at once would prove nothing.
        assert!(report.read > inputs / 4 && report.refused > inputs / 20, "{report:?}");
    });
}
