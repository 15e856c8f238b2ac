//! The tasks and their flags; the help is made from these.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand};

/// Ledgerline's tasks.
#[derive(Parser)]
#[command(name = "cargo xtask")]
pub struct Flags {
    /// What to do.
    #[command(subcommand)]
    pub task: Task,
}

/// A task.
#[derive(Subcommand)]
pub enum Task {
    /// Build the CLAP and VST3 bundles into target/bundled, and the command
    Bundle,
    /// Build, and put the bundles where hosts look for them, the command where shells do
    Install,
    /// Take all that away again
    Uninstall,
    /// Make an archive for users without a toolchain, in target/dist
    Dist,
    /// Play the demo through the built plugin, print the ledger, write files into target/demo
    Demo(DemoFlags),
    /// Run every test, or those that are named
    Test(TestFlags),
    /// Look through the sources: layout, warnings, documentation
    Check,
    /// Measure the cost of measuring
    Bench(BenchFlags),
    /// Read damaged files of every kind: no panic, no hang, no memory taken
    Fuzz(FuzzFlags),
    /// Compare real sound before and after chains whose effect is known, and judge what is said
    Chains(ChainsFlags),
    /// Draw the editor's pictures into docs/pictures
    Pictures,
    /// Write the documents' tables of parameters and options, which are made from the code
    Tables,
}

/// Flags of `demo`.
#[derive(Args)]
pub struct DemoFlags {
    /// Play through bundles that are built already, with the log folder in the environment; the
    /// task starts itself like this
    #[arg(long, hide = true)]
    pub play_only: bool,
}

/// Flags of `test`.
#[derive(Args)]
pub struct TestFlags {
    /// Only tests whose names contain this: a part of `PROGRAM::MODULE::TEST`
    #[arg(value_name = "NAME")]
    pub names: Vec<String>,
    /// Fail if anything had to be skipped
    #[arg(long)]
    pub no_skips: bool,
    /// Let the tests that count on chance take more runs
    #[arg(long)]
    pub long: bool,
}

/// Flags of `fuzz`.
#[derive(Args)]
pub struct FuzzFlags {
    /// How many files
    #[arg(long, default_value_t = 100_000)]
    pub inputs: u64,
    /// Which files: another number gives others
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
}

/// Flags of `chains`.
#[derive(Args)]
pub struct ChainsFlags {
    /// Only these kinds of chain, with commas between them
    #[arg(long, value_name = "KIND", value_delimiter = ',')]
    pub kinds: Vec<String>,
    /// Only these pieces, by name or by number from 1, with commas between them
    #[arg(long, value_name = "PIECE", value_delimiter = ',')]
    pub pieces: Vec<String>,
    /// Length of a piece
    #[arg(long, default_value_t = 20)]
    pub seconds: u32,
    /// Two pieces from packages that are installed for the tests
    #[arg(long)]
    pub small: bool,
    /// Print what the command says to people, and keep the files
    #[arg(long)]
    pub show: bool,
    /// Judge this command instead of building one
    #[arg(long, value_name = "FILE")]
    pub command: Option<PathBuf>,
}

/// Flags of `bench`.
#[derive(Args)]
pub struct BenchFlags {
    /// Print one JSON object on standard output
    #[arg(long)]
    pub json: bool,
    /// Time the parts of measuring apart, and nothing else
    #[arg(long)]
    pub parts: bool,
}
