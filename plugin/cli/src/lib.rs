//! The `ledgerline` command for files: parse, match on the task, run, exit.

pub mod audio;
mod audit_command;
mod colour;
mod compare_command;
mod meter_command;
mod options;
mod outcome;
mod progress;
mod read_command;
mod shell;
mod signal_command;
mod text;

use std::io::Write;
use std::path::Path;

use anyhow::Context;
use colour::{CAUTION, ERROR};

pub use options::{Command, Task};
pub use outcome::Outcome;

/// Does what was asked for and says how it ended. Results go to `out`, errors to standard error.
pub fn run(command: &Command, out: &mut dyn Write) -> Outcome {
    let outcome = match &command.task {
        Task::Read(options) => read_command::run(options, out),
        Task::Compare(options) => compare_command::run(options, out),
        Task::Signal(options) => signal_command::run(options, out),
        Task::Audit(options) => audit_command::run(options, out),
        Task::Meter(options) => meter_command::run(options, out),
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

fn write_report(path: &Path, page: &str) -> anyhow::Result<()> {
    std::fs::write(path, page)
        .with_context(|| format!("the report {} cannot be written", path.display()))
}

/// The words of this run as they would be typed again.
fn command_line() -> String {
    let words = std::env::args_os().skip(1).map(|word| quoted(&word.to_string_lossy()));
    std::iter::once("ledgerline".to_owned()).chain(words).collect::<Vec<_>>().join(" ")
}

/// A word with what a shell would take apart kept together.
fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || "-_./=,:+@%".contains(c);
    if !word.is_empty() && word.chars().all(plain) {
        word.to_owned()
    } else {
        format!("'{}'", word.replace('\'', "'\\''"))
    }
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
