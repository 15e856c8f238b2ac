//! Running other programs, with a line that says what and why.

use std::process::Command;

use anyhow::{Context, Result, ensure};

/// Prints what is done, on a line of its own that stands out from the programs' output.
pub fn announce(what: &str) {
    // Standard error, where cargo's own progress goes, so that both stay in order.
    eprintln!("\n=== {what}");
}

/// Runs a command to its end.
///
/// # Errors
///
/// When it cannot be started, or fails.
pub fn check(command: &mut Command) -> Result<()> {
    let status = command.status().with_context(|| format!("{command:?} cannot be started"))?;
    ensure!(status.success(), "{command:?} failed: {status}");
    Ok(())
}

/// Runs a command to its end without showing what it prints, and says whether it succeeded.
#[must_use]
pub fn succeeds(command: &mut Command) -> bool {
    command.output().is_ok_and(|output| output.status.success())
}
