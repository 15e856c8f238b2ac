//! What the shell and `man` know of the command: completions and manual pages, written by the built
//! command itself.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use anyhow::{Context, Result, ensure};

use crate::run;

/// A shell, and how the file of its completions is called where it looks for them.
pub const COMPLETIONS: [(&str, &str); 4] = [
    ("bash", "ledgerline"),
    ("zsh", "_ledgerline"),
    ("fish", "ledgerline.fish"),
    ("powershell", "ledgerline.ps1"),
];

/// Writes the completions for a shell into a file, whose folder is made.
///
/// # Errors
///
/// When the command fails or the file cannot be written.
pub fn write_completions(command: &Path, shell: &str, file: &Path) -> Result<()> {
    let output = Command::new(command)
        .args(["completions", shell])
        .output()
        .with_context(|| format!("{} cannot be started", command.display()))?;
    ensure!(output.status.success(), "no completions for {shell}");
    make_folder_of(file)?;
    fs::write(file, output.stdout).with_context(|| format!("{} cannot be written", file.display()))
}

/// Writes the manual's pages into a folder, which is made.
///
/// # Errors
///
/// When the command fails.
pub fn write_manual(command: &Path, folder: &Path) -> Result<()> {
    run::check(Command::new(command).args(["manual", "--folder"]).arg(folder))
}

/// The manual's pages in a folder, also those of other versions.
///
/// # Errors
///
/// When the folder is there and cannot be read.
pub fn manual_pages(folder: &Path) -> Result<Vec<PathBuf>> {
    if !folder.is_dir() {
        return Ok(Vec::new());
    }
    let mut pages = Vec::new();
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        if name == "ledgerline.1" || (name.starts_with("ledgerline-") && name.ends_with(".1")) {
            pages.push(path);
        }
    }
    pages.sort();
    Ok(pages)
}

/// Makes the folder that a file is to be in.
///
/// # Errors
///
/// When it cannot be made.
pub fn make_folder_of(file: &Path) -> Result<()> {
    let folder = file.parent().context("a folder")?;
    fs::create_dir_all(folder).with_context(|| format!("{} cannot be made", folder.display()))
}
