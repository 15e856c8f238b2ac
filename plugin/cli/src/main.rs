//! The `ledgerline` command.

use std::process::ExitCode;

use clap::Parser;
use ledgerline_cli::Command;

fn main() -> ExitCode {
    let outcome = ledgerline_cli::run(&Command::parse(), &mut anstream::stdout().lock());
    ExitCode::from(outcome.status())
}
