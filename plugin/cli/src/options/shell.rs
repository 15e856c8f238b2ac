//! What the helpers of the shell take.

use std::path::PathBuf;

use clap::Args;
use clap_complete::Shell;

/// Options of `completions`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  ledgerline completions bash > ~/.local/share/bash-completion/completions/ledgerline
  ledgerline completions zsh > ~/.zfunc/_ledgerline")]
pub struct CompletionsOptions {
    /// The shell.
    #[arg(value_enum)]
    pub shell: Shell,
}

/// Options of `manual`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  ledgerline manual | man -l -
  ledgerline manual --folder /usr/local/share/man/man1")]
pub struct ManualOptions {
    /// Write a page for the command and one for each task into a folder, instead of printing the
    /// first.
    #[arg(long, value_name = "DIR")]
    pub folder: Option<PathBuf>,
}
