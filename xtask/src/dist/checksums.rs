//! SHA-256 (FIPS 180-4) of files, in lines that `sha256sum --check` reads.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use sha2::{Digest, Sha256};

/// Name of the list within the archive.
const LIST: &str = "SHA256SUMS";

/// Writes the list of all files in a folder into it.
///
/// # Errors
///
/// When a file cannot be read or written.
pub fn write_within(folder: &Path) -> Result<()> {
    let list = folder.join(LIST);
    let mut text = String::new();
    for path in files(folder)? {
        let within = path.strip_prefix(folder)?.to_string_lossy().replace('\\', "/");
        text += &line(&path, &within)?;
    }
    fs::write(&list, text).with_context(|| format!("{} cannot be written", list.display()))
}

/// Writes the checksum of a file beside it.
///
/// # Errors
///
/// When a file cannot be read or written.
pub fn write_of(file: &Path) -> Result<()> {
    let name = file.file_name().context("a file's name")?.to_string_lossy();
    fs::write(file_of(file), line(file, &name)?)
        .with_context(|| format!("{} cannot be written", file_of(file).display()))
}

/// Where the checksum of a file is written.
#[must_use]
pub fn file_of(file: &Path) -> PathBuf {
    let mut name = file.as_os_str().to_owned();
    name.push(".sha256");
    name.into()
}

/// All files in a folder and below, in order.
///
/// # Errors
///
/// When a folder cannot be read.
pub fn files(folder: &Path) -> Result<Vec<PathBuf>> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            found.append(&mut files(&path)?);
        } else {
            found.push(path);
        }
    }
    found.sort();
    Ok(found)
}

fn line(file: &Path, name: &str) -> Result<String> {
    let bytes = fs::read(file).with_context(|| format!("{} cannot be read", file.display()))?;
    let sum: String = Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
    Ok(format!("{sum}  {name}\n"))
}
