//! Builds the two bundles: a CLAP file and a VST3 folder, each as its format wants it on this
//! system (CLAP's `entry.h`; "Plug-in format structure" in the VST 3 developer pages). The same
//! build makes the command.

mod plist;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Stdio;

use anyhow::{Context, Result, ensure};

use crate::run::announce;
use crate::workspace::Workspace;

/// Everything that a user takes home.
pub struct Bundles {
    /// `ledgerline.clap`
    pub clap: PathBuf,
    /// `ledgerline.vst3`
    pub vst3: PathBuf,
    /// The `ledgerline` command.
    pub command: PathBuf,
}

/// What cargo has built.
struct Built {
    library: PathBuf,
    command: PathBuf,
}

/// Name of the bundles, of the binaries in them, and of the command.
const NAME: &str = "ledgerline";

/// `cargo xtask bundle`
///
/// # Errors
///
/// When the build fails or the bundles cannot be written.
pub fn run() -> Result<()> {
    let workspace = Workspace::find()?;
    let bundles = build(&workspace)?;
    println!("{}", workspace.short(&bundles.clap).display());
    println!("{}", workspace.short(&bundles.vst3).display());
    println!("{}", workspace.short(&bundles.command).display());
    Ok(())
}

/// Builds the plugin and the command in the release profile, and writes both bundles.
///
/// # Errors
///
/// When the build fails or the bundles cannot be written.
pub fn build(workspace: &Workspace) -> Result<Bundles> {
    announce("Building the release bundles and the command");
    let Built { library, command } = build_all(workspace)?;
    let folder = workspace.bundled();
    fs::create_dir_all(&folder)?;
    let bundles = Bundles {
        clap: folder.join(format!("{NAME}.clap")),
        vst3: folder.join(format!("{NAME}.vst3")),
        command,
    };
    remove(&bundles.clap)?;
    remove(&bundles.vst3)?;
    if cfg!(target_os = "macos") {
        write_folder(&library, &bundles.clap, "MacOS", NAME)?;
        plist::write(&bundles.clap, NAME)?;
    } else {
        fs::copy(&library, &bundles.clap)?;
    }
    write_folder(&library, &bundles.vst3, VST3_FOLDER, &vst3_binary())?;
    if cfg!(target_os = "macos") {
        plist::write(&bundles.vst3, NAME)?;
    }
    Ok(bundles)
}

/// Builds the shared library and the command, and returns where cargo put them.
fn build_all(workspace: &Workspace) -> Result<Built> {
    // With xtask among the packages, cargo settles on the features that the running xtask was
    // built with, and builds nothing twice. The command alone would have other features, and all
    // that it is made from would be built anew.
    let output = workspace
        .cargo()
        .args(["build", "--release", "--package=ledgerline", "--package=ledgerline-cli"])
        .args(["--package=xtask", "--message-format=json-render-diagnostics"])
        .stderr(Stdio::inherit())
        .output()
        .context("cargo cannot be started")?;
    ensure!(output.status.success(), "the plugin and the command do not build");
    let messages = String::from_utf8(output.stdout)?;
    let made: Vec<serde_json::Value> = messages
        .lines()
        .filter_map(|line| serde_json::from_str::<serde_json::Value>(line).ok())
        .filter(|message| message["target"]["name"] == NAME)
        .collect();
    let library = made
        .iter()
        .flat_map(|message| message["filenames"].as_array().cloned().unwrap_or_default())
        .filter_map(|file| file.as_str().map(PathBuf::from))
        .find(|file| file.extension().is_some_and(|e| e == std::env::consts::DLL_EXTENSION));
    let command = made.iter().find_map(|message| message["executable"].as_str().map(PathBuf::from));
    Ok(Built {
        library: library.context("cargo built no shared library")?,
        command: command.context("cargo built no command")?,
    })
}

/// Folder of the binary within a VST3 bundle's `Contents`.
const VST3_FOLDER: &str = if cfg!(target_os = "macos") {
    "MacOS"
} else if cfg!(target_os = "windows") {
    if cfg!(target_arch = "aarch64") { "arm64-win" } else { "x86_64-win" }
} else if cfg!(target_arch = "aarch64") {
    "aarch64-linux"
} else {
    "x86_64-linux"
};

/// Name of the binary within a VST3 bundle.
fn vst3_binary() -> String {
    if cfg!(target_os = "macos") {
        NAME.into()
    } else if cfg!(target_os = "windows") {
        format!("{NAME}.vst3")
    } else {
        format!("{NAME}.so")
    }
}

/// Copies the library into `Contents/FOLDER` of a bundle.
fn write_folder(library: &Path, bundle: &Path, folder: &str, binary: &str) -> Result<()> {
    let folder = bundle.join("Contents").join(folder);
    fs::create_dir_all(&folder)?;
    fs::copy(library, folder.join(binary))?;
    Ok(())
}

/// Removes a bundle, folder or file, if it is there.
///
/// # Errors
///
/// When it is there and cannot be removed.
pub fn remove(bundle: &Path) -> Result<()> {
    let result = if bundle.is_dir() {
        fs::remove_dir_all(bundle)
    } else if bundle.exists() {
        fs::remove_file(bundle)
    } else {
        Ok(())
    };
    result.with_context(|| format!("{} cannot be removed", bundle.display()))
}

/// Copies a bundle, folder or file.
///
/// # Errors
///
/// When something cannot be read or written.
pub fn copy(from: &Path, to: &Path) -> Result<()> {
    if from.is_file() {
        fs::copy(from, to).with_context(|| format!("{} cannot be written", to.display()))?;
        return Ok(());
    }
    fs::create_dir_all(to).with_context(|| format!("{} cannot be made", to.display()))?;
    for entry in fs::read_dir(from)? {
        let entry = entry?;
        copy(&entry.path(), &to.join(entry.file_name()))?;
    }
    Ok(())
}
