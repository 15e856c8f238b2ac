//! Makes what a user without a toolchain takes home: an archive for the system that this runs on,
//! with both bundles, the command and what belongs to it, licences, a text that says how to install
//! it by hand, and checksums.

mod checksums;
mod instructions;
mod licences;
mod needs;

use std::fs::{self, File};
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use flate2::Compression;
use flate2::write::GzEncoder;

use crate::bundle::{self, Bundles};
use crate::run::announce;
use crate::shell;
use crate::workspace::Workspace;

/// Pages of the manual that go along.
const PAGES: [&str; 4] = ["hosts.md", "manual.md", "files.md", "sum-test.md"];

/// `cargo xtask dist`
///
/// # Errors
///
/// When the build fails, a licence is not to be found, or a file cannot be written.
pub fn run() -> Result<()> {
    let workspace = Workspace::find()?;
    let archive = make(&workspace)?;
    println!("{}", workspace.short(&archive).display());
    println!("{}", workspace.short(&checksums::file_of(&archive)).display());
    Ok(())
}

/// Builds everything and packs it.
///
/// # Errors
///
/// When the build fails, a licence is not to be found, or a file cannot be written.
pub fn make(workspace: &Workspace) -> Result<PathBuf> {
    let bundles = bundle::build(workspace)?;
    announce("Packing the archive");
    let name = format!(
        "ledgerline-{}-{}-{}",
        env!("CARGO_PKG_VERSION"),
        std::env::consts::OS,
        std::env::consts::ARCH
    );
    let dist = workspace.target.join("dist");
    let folder = dist.join(&name);
    bundle::remove(&folder)?;
    fs::create_dir_all(&folder)?;
    fill(workspace, &bundles, &folder)?;
    let archive = dist.join(format!("{name}.tar.gz"));
    pack(&folder, &name, &archive)?;
    checksums::write_of(&archive)?;
    Ok(archive)
}

/// Lays everything out in a folder.
fn fill(workspace: &Workspace, bundles: &Bundles, folder: &Path) -> Result<()> {
    let command = folder.join("bin").join(format!("ledgerline{}", std::env::consts::EXE_SUFFIX));
    for (from, to) in [
        (&bundles.clap, &folder.join("ledgerline.clap")),
        (&bundles.vst3, &folder.join("ledgerline.vst3")),
        (&bundles.command, &command),
        (&workspace.root.join("LICENSE"), &folder.join("LICENSE")),
    ] {
        shell::make_folder_of(to)?;
        bundle::copy(from, to)?;
    }
    for page in PAGES {
        let to = folder.join("docs").join(page);
        shell::make_folder_of(&to)?;
        bundle::copy(&workspace.root.join("docs").join(page), &to)?;
    }
    for (shell, file) in shell::COMPLETIONS {
        shell::write_completions(&command, shell, &folder.join("completions").join(file))?;
    }
    shell::write_manual(&command, &folder.join("man").join("man1"))?;
    fs::write(folder.join("THIRD-PARTY-LICENCES.txt"), licences::text(workspace)?)?;
    let needs = needs::of(&[&bundles.clap, &bundles.command])?;
    fs::write(folder.join("INSTALL.txt"), instructions::text(&needs))?;
    checksums::write_within(folder)
}

/// Packs a folder under its name. What was packed from the same files is the same to the last byte.
fn pack(folder: &Path, name: &str, archive: &Path) -> Result<()> {
    let file = File::create(archive)
        .with_context(|| format!("{} cannot be written", archive.display()))?;
    let mut tar = tar::Builder::new(GzEncoder::new(file, Compression::best()));
    tar.mode(tar::HeaderMode::Deterministic);
    for path in checksums::files(folder)? {
        let within = Path::new(name).join(path.strip_prefix(folder)?);
        tar.append_path_with_name(&path, &within)
            .with_context(|| format!("{} cannot be packed", path.display()))?;
    }
    tar.into_inner()?.finish()?.sync_all()?;
    Ok(())
}
