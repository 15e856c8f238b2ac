//! Every task that is more than one cargo command, as `cargo xtask TASK`.

mod bench;
mod bundle;
mod chains;
mod check;
mod demo;
mod dist;
mod flags;
mod fuzz;
mod install;
mod measured;
mod picture;
mod pictures;
mod run;
mod shell;
mod tables;
mod test;
mod workspace;

use std::process::ExitCode;

use clap::Parser;

use flags::{Flags, Task};

fn main() -> ExitCode {
    match run_task() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("error: {error:#}");
            ExitCode::FAILURE
        }
    }
}

fn run_task() -> anyhow::Result<()> {
    match Flags::parse().task {
        Task::Bundle => bundle::run(),
        Task::Install => install::run(),
        Task::Uninstall => install::undo(),
        Task::Dist => dist::run(),
        Task::Demo(flags) => demo::run(&flags),
        Task::Test(flags) => test::run(&flags),
        Task::Check => check::run(),
        Task::Bench(flags) => bench::run(&flags),
        Task::Fuzz(flags) => fuzz::run(&flags),
        Task::Chains(flags) => chains::run(&flags),
        Task::Pictures => pictures::run(),
        Task::Tables => tables::run(),
    }
}
