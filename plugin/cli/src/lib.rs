//! The `ledgerline` command for files: parse, match on the task, run, exit.

pub mod audio;
mod audit_command;
mod card;
mod options;
mod outcome;
mod recording;
mod signal_command;
mod table;
mod text;
mod wav;

use std::io::Write;

pub use options::{AuditOptions, Command, SignalOptions, Task};
pub use outcome::Outcome;

/// Does what was asked for and says how it ended. Results go to `out`, errors to standard error.
pub fn run(command: &Command, out: &mut dyn Write) -> Outcome {
    let outcome = match &command.task {
        Task::Signal(options) => signal_command::run(options, out),
        Task::Audit(options) => audit_command::run(options, out),
    };
    outcome.unwrap_or_else(|error| {
        if is_broken_pipe(&error) {
            // Whoever read the output has seen enough.
            return Outcome::Fine;
        }
        eprintln!("ledgerline: {error:#}");
        Outcome::NotDone
    })
}

fn is_broken_pipe(error: &anyhow::Error) -> bool {
    error
        .chain()
        .filter_map(|cause| cause.downcast_ref::<std::io::Error>())
        .any(|cause| cause.kind() == std::io::ErrorKind::BrokenPipe)
}
