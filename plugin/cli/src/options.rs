//! What can be typed. Each option is defined once, in its command's file; help, completions and the
//! manual page follow from it.

mod audit;
mod compare;
mod measuring;
pub(crate) mod meter;
mod read;
mod report;
mod shell;
mod shown;
mod signal;

use clap::{Parser, Subcommand};

pub use audit::{AuditOptions, Shown};
pub use compare::CompareOptions;
pub use meter::MeterOptions;
pub use read::ReadOptions;
pub use shell::{CompletionsOptions, ManualOptions};
pub use signal::SignalOptions;

/// Keeps the books of a mix: what a file holds and how much of it is audible, what an export did to
/// it, how a mixer adds, and what kind of meter it shows.
///
/// Exit status: 0 fine, 1 something was found, 2 it could not be done.
#[derive(Debug, Parser)]
#[command(name = "ledgerline", version, max_term_width = 100)]
pub struct Command {
    /// What to do.
    #[command(subcommand)]
    pub task: Task,
}

/// The tasks.
#[derive(Debug, Subcommand)]
pub enum Task {
    /// Measure files: whole band beside audible band, the halves, and the room there really is.
    Read(ReadOptions),
    /// Say what happened to a mix on its way into an export.
    Compare(Box<CompareOptions>),
    /// Write the sum test's feeds, a loop to demonstrate with, or noises, and a card that says what to
    /// do with them.
    Signal(SignalOptions),
    /// Judge recordings of a mixer that played the sum test.
    Audit(AuditOptions),
    /// Name a meter from what it showed of noises, without a recording.
    Meter(MeterOptions),
    /// Print completions for a shell.
    Completions(CompletionsOptions),
    /// Print the manual page.
    Manual(ManualOptions),
}
