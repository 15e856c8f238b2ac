//! Reads damaged files of every container, on all processors, and says what came of it.

use std::time::Instant;

use anyhow::{Result, bail};
use ledgerline_tests::fuzz::{Plan, run as read_all};

use crate::flags::FuzzFlags;
use crate::run::announce;

/// `cargo xtask fuzz`
///
/// # Errors
///
/// When a file made the reader panic, hang or take memory.
pub fn run(flags: &FuzzFlags) -> Result<()> {
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    announce(&format!("{} damaged files, seed {}", flags.inputs, flags.seed));
    let started = Instant::now();
    let report = read_all(&Plan { inputs: flags.inputs, seed: flags.seed, threads })?;
    for failure in &report.failures {
        println!("FAILED  {failure}");
    }
    println!(
        "{} files in {:.0} s on {threads} threads: {} gave sound, {} were refused, {} failed",
        report.inputs,
        started.elapsed().as_secs_f64(),
        report.read,
        report.refused,
        report.failures.len()
    );
    println!("the slowest took {:.3} s: {}", report.slowest_s, report.slowest);
    match report.grown_bytes {
        Some(bytes) => println!("resident memory grew by at most {} MiB", bytes >> 20),
        None => println!("resident memory was not watched: this system has no /proc"),
    }
    if report.failures.is_empty() {
        Ok(())
    } else {
        bail!("{} files failed", report.failures.len())
    }
}
