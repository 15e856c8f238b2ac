//! Damaged files of every container, read in process. `cargo xtask fuzz` reads many more.

use ledgerline_tests::fuzz::{Plan, run};

/// Some twenty seconds of one processor in this profile.
const INPUTS: u64 = 10_000;

#[test]
fn damaged_files_neither_panic_nor_hang_nor_take_memory() {
    let report = run(&Plan { inputs: INPUTS, seed: 1, threads: 2 }).expect("the seeds are there");
    assert!(report.failures.is_empty(), "{:#?}", report.failures);
    assert_eq!(report.inputs, INPUTS);
    // A check that every file is refused at once would prove nothing.
    assert!(report.read > INPUTS / 4 && report.refused > INPUTS / 20, "{report:?}");
}
