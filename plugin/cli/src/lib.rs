//! The `ledgerline` command for files: parse, match on the task, run, exit.

pub mod audio;
mod audit_command;
mod audit_table;
mod audit_text;
mod card;
mod colour;
mod options;
mod outcome;
mod progress;
mod read_command;
mod recording;
mod shell;
mod signal_command;
mod text;
mod wav;

use std::io::Write;

use colour::{CAUTION, ERROR};

pub use options::{Command, Task};
pub use outcome::Outcome;

/// Does what was asked for and says how it ended. Results go to `out`, errors to standard error.
pub fn run(command: &Command, out: &mut dyn Write) -> Outcome {
    let outcome = match &command.task {
        Task::Read(options) => read_command::run(options, out),
        Task::Signal(options) => signal_command::run(options, out),
        Task::Audit(options) => audit_command::run(options, out),
        Task::Completions(options) => shell::completions(options, out),
        Task::Manual(options) => shell::manual(options, out),
    };
    outcome.unwrap_or_else(|error| {
        if is_broken_pipe(&error) {
            // Whoever read the output has seen enough.
            return Outcome::Fine;
        }
        complain(&error);
        Outcome::NotDone
    })
}

/// Says on standard error what could not be done.
fn complain(error: &anyhow::Error) {
    anstream::eprintln!("{ERROR}error:{ERROR:#} {error:#}");
}

/// Says on standard error what is wrong, though the work goes on.
fn warn(what: &str) {
    anstream::eprintln!("{CAUTION}warning:{CAUTION:#} {what}");
}

fn is_broken_pipe(error: &anyhow::Error) -> bool {
    error
        .chain()
        .filter_map(|cause| cause.downcast_ref::<std::io::Error>())
        .any(|cause| cause.kind() == std::io::ErrorKind::BrokenPipe)
}
