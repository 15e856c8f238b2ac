//! Puts the bundles where hosts look for them, for this user alone, and takes them away again.
//!
//! Folders: CLAP's `entry.h`, and "Plug-in locations" in the VST 3 developer pages.

use std::fs;
use std::path::PathBuf;

use anyhow::{Context, Result};

use crate::bundle;
use crate::workspace::Workspace;

/// Where a bundle goes.
struct Place {
    format: &'static str,
    bundle: PathBuf,
}

/// `cargo xtask install`
///
/// # Errors
///
/// When the build fails or a folder cannot be written.
pub fn run() -> Result<()> {
    let workspace = Workspace::find()?;
    let places = places()?;
    let bundles = bundle::build(&workspace)?;
    for (place, built) in places.iter().zip([bundles.clap, bundles.vst3]) {
        let folder = place.bundle.parent().context("a folder")?;
        fs::create_dir_all(folder)
            .with_context(|| format!("{} cannot be made", folder.display()))?;
        bundle::remove(&place.bundle)?;
        bundle::copy(&built, &place.bundle)?;
        println!("{}: {}", place.format, place.bundle.display());
    }
    println!(
        "\nNext: start your host, or let it scan for plug-ins again, and insert \"Ledgerline\" \
         last on the bus that your meter shows. Play; the sentence at the top of its window says \
         what separates the meter from what is heard. `cargo xtask uninstall` takes it away again."
    );
    Ok(())
}

/// `cargo xtask uninstall`
///
/// # Errors
///
/// When a bundle is there and cannot be removed.
pub fn undo() -> Result<()> {
    for place in places()? {
        if place.bundle.exists() {
            bundle::remove(&place.bundle)?;
            println!("{}: removed {}", place.format, place.bundle.display());
        } else {
            println!("{}: there is no {}", place.format, place.bundle.display());
        }
    }
    println!("\nNext: let your host scan for plug-ins again, so that it forgets Ledgerline.");
    Ok(())
}

/// Both bundles in this user's folders, CLAP first.
fn places() -> Result<[Place; 2]> {
    let (base, clap, vst3) = if cfg!(target_os = "windows") {
        let base = folder_of("LOCALAPPDATA")?.join("Programs").join("Common");
        (base, "CLAP", "VST3")
    } else if cfg!(target_os = "macos") {
        (folder_of("HOME")?.join("Library/Audio/Plug-Ins"), "CLAP", "VST3")
    } else {
        (folder_of("HOME")?, ".clap", ".vst3")
    };
    Ok([
        Place { format: "CLAP", bundle: base.join(clap).join("ledgerline.clap") },
        Place { format: "VST3", bundle: base.join(vst3).join("ledgerline.vst3") },
    ])
}

fn folder_of(variable: &str) -> Result<PathBuf> {
    let folder = std::env::var_os(variable)
        .with_context(|| format!("the environment variable {variable} names no folder"))?;
    Ok(folder.into())
}
