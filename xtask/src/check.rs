//! What can be said of the sources without running them: how they are laid out, what the compiler
//! and its linter warn of, and whether the documentation can be made.

use std::process::Command;

use anyhow::{Result, ensure};

use crate::run::{announce, check, succeeds};
use crate::workspace::Workspace;

/// `cargo xtask check`
///
/// # Errors
///
/// When a tool is absent, or has something to say.
pub fn run() -> Result<()> {
    let workspace = Workspace::find()?;
    for (tool, component) in [("fmt", "rustfmt"), ("clippy", "clippy")] {
        ensure!(
            succeeds(workspace.cargo().args([tool, "--version"])),
            "cargo {tool} is not installed: rustup component add {component}"
        );
    }
    announce("The layout of the sources");
    check(workspace.cargo().args(["fmt", "--all", "--check"]))?;
    announce("Warnings of the compiler and of its linter");
    check(&mut clippy(&workspace))?;
    announce("The documentation");
    check(&mut documentation(&workspace))
}

fn clippy(workspace: &Workspace) -> Command {
    let mut command = workspace.cargo();
    command.args(["clippy", "--workspace", "--all-targets", "--", "--deny=warnings"]);
    command
}

/// Private items too, which public ones may then refer to: who reads this works on the code.
fn documentation(workspace: &Workspace) -> Command {
    let mut command = workspace.cargo();
    command.args(["doc", "--workspace", "--no-deps", "--document-private-items"]);
    command.env("RUSTDOCFLAGS", "--deny=warnings --allow=rustdoc::private_intra_doc_links");
    command
}
