//! Puts the bundles where hosts look for them and the command where shells do, for this user alone,
//! and takes them away again.

mod places;

use std::fs;
use std::path::Path;

use anyhow::Result;

use crate::bundle::{self, Bundles};
use crate::shell;
use crate::workspace::Workspace;
use places::Places;

/// `cargo xtask install`
///
/// # Errors
///
/// When the build fails or a folder cannot be written.
pub fn run() -> Result<()> {
    let workspace = Workspace::find()?;
    let places = Places::find()?;
    let Bundles { clap, vst3, command } = bundle::build(&workspace)?;
    for (what, built, place) in [
        ("CLAP", &clap, &places.clap),
        ("VST3", &vst3, &places.vst3),
        ("command", &command, &places.command),
    ] {
        put(built, place)?;
        told(what, place);
    }
    for (shell, file) in &places.completions {
        shell::write_completions(&command, shell, file)?;
        told(&format!("{shell} completions"), file);
    }
    if let Some(folder) = &places.manual {
        for page in shell::manual_pages(folder)? {
            bundle::remove(&page)?;
        }
        shell::write_manual(&command, folder)?;
        for page in shell::manual_pages(folder)? {
            told("manual page", &page);
        }
    }
    println!(
        "\nNext: start your host, or let it scan for plug-ins again, and insert \"Ledgerline\" \
         last on the bus that your meter shows. Play; the sentence at the top of its window says \
         what separates the meter from what is heard. docs/hosts.md helps where a host does not \
         find it. For files, type: ledgerline read FILE. `cargo xtask uninstall` takes everything \
         away again."
    );
    say_if_not_on_path(&places.command);
    Ok(())
}

/// `cargo xtask uninstall`
///
/// # Errors
///
/// When something is there and cannot be removed.
pub fn undo() -> Result<()> {
    let places = Places::find()?;
    take("CLAP", &places.clap)?;
    take("VST3", &places.vst3)?;
    take("command", &places.command)?;
    for (shell, file) in &places.completions {
        take(&format!("{shell} completions"), file)?;
    }
    if let Some(folder) = &places.manual {
        for page in shell::manual_pages(folder)? {
            take("manual page", &page)?;
        }
    }
    println!("\nNext: let your host scan for plug-ins again, so that it forgets Ledgerline.");
    Ok(())
}

/// Puts a file or folder in a place, instead of what was there. A host that has the old one open
/// keeps it: it is removed, not written over.
fn put(built: &Path, place: &Path) -> Result<()> {
    shell::make_folder_of(place)?;
    bundle::remove(place)?;
    bundle::copy(built, place)
}

fn take(what: &str, place: &Path) -> Result<()> {
    if fs::symlink_metadata(place).is_ok() {
        bundle::remove(place)?;
        println!("{what}: removed {}", place.display());
    } else {
        println!("{what}: there is no {}", place.display());
    }
    Ok(())
}

fn told(what: &str, place: &Path) {
    println!("{what}: {}", place.display());
}

/// A command in a folder that the shell does not search would not be found.
fn say_if_not_on_path(command: &Path) {
    let Some(folder) = command.parent() else { return };
    let path = std::env::var_os("PATH").unwrap_or_default();
    if !std::env::split_paths(&path).any(|searched| searched == folder) {
        println!(
            "\nThe shell does not search {} for commands: add it to PATH, or type the whole path.",
            folder.display()
        );
    }
}
