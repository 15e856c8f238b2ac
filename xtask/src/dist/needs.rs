//! What the binaries need of the system they run on: the libraries that its loader has to find, as
//! the tools that come with the linker list them.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::Command;

use anyhow::{Context, Result, ensure};

/// What binaries need.
#[derive(Debug, Default)]
pub struct Needs {
    /// Names of libraries; empty where this system's tools do not tell.
    pub libraries: BTreeSet<String>,
    /// The newest version of the GNU C library that is asked for.
    pub glibc: Option<(u32, u32)>,
}

/// What some binaries need.
///
/// # Errors
///
/// When the tool fails, or a file cannot be read.
pub fn of(binaries: &[&PathBuf]) -> Result<Needs> {
    let mut needs = Needs::default();
    for binary in binaries {
        let binary = file_in(binary)?;
        needs.libraries.extend(libraries(&binary)?);
        if cfg!(target_os = "linux") {
            needs.glibc = needs.glibc.max(newest_glibc(&std::fs::read(&binary)?));
        }
    }
    Ok(needs)
}

/// The binary itself: bundles are folders on some systems.
fn file_in(bundle: &Path) -> Result<PathBuf> {
    if bundle.is_file() {
        return Ok(bundle.into());
    }
    let folder = bundle.join("Contents").join("MacOS");
    let first = std::fs::read_dir(folder)?.next().context("a bundle without a binary")??;
    Ok(first.path())
}

fn libraries(binary: &Path) -> Result<Vec<String>> {
    let (tool, flag) = if cfg!(target_os = "linux") {
        ("objdump", "-p")
    } else if cfg!(target_os = "macos") {
        ("otool", "-L")
    } else {
        return Ok(Vec::new());
    };
    let output = Command::new(tool)
        .arg(flag)
        .arg(binary)
        .output()
        .with_context(|| format!("{tool}, which comes with the linker, cannot be started"))?;
    ensure!(output.status.success(), "{tool} cannot read {}", binary.display());
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    let name = |line: &str| -> Option<String> {
        let line = line.trim();
        if cfg!(target_os = "linux") {
            Some(line.strip_prefix("NEEDED")?.trim().to_owned())
        } else {
            Some(line.split_once(" (compatibility")?.0.to_owned())
        }
    };
    Ok(text.lines().filter_map(name).collect())
}

/// The highest version that a symbol of the C library is asked for in.
fn newest_glibc(binary: &[u8]) -> Option<(u32, u32)> {
    const MARK: &[u8] = b"GLIBC_2.";
    let after_mark = binary.windows(MARK.len()).enumerate().filter(|(_, bytes)| *bytes == MARK);
    let minor = |(at, _): (usize, &[u8])| -> Option<(u32, u32)> {
        let digits: String = binary[at + MARK.len()..]
            .iter()
            .map(|byte| char::from(*byte))
            .take_while(char::is_ascii_digit)
            .collect();
        Some((2, digits.parse().ok()?))
    };
    after_mark.filter_map(minor).max()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_newest_version_is_found_by_number() {
        let binary = b"\0GLIBC_2.9\0GLIBC_2.34\0GLIBC_2.2.5\0GLIBC_PRIVATE\0";
        assert_eq!(newest_glibc(binary), Some((2, 34)));
        assert_eq!(newest_glibc(b"GLIBC_"), None);
    }
}
