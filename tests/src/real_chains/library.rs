//! Sound from Debian's packages: installed ones, or fetched into a folder of their own.

use std::fs;
use std::io::{Error, Result};
use std::path::{Path, PathBuf};

use super::tools::{finish, polite};

/// Where packages are looked for.
pub struct Library {
    /// Where those are put that are not installed; `None` where nothing is fetched.
    fetched: Option<PathBuf>,
}

impl Library {
    /// What is installed, and nothing else.
    #[must_use]
    pub fn installed() -> Self {
        Self { fetched: None }
    }

    /// What is installed, and what apt fetches into a folder.
    #[must_use]
    pub fn fetching(folder: &Path) -> Self {
        Self { fetched: Some(folder.to_owned()) }
    }

    /// A file or folder of a package, given as it is named in the package.
    ///
    /// # Errors
    ///
    /// When the package is not installed and cannot be fetched, or does not hold it.
    pub fn find(&self, package: &str, path: &str) -> Result<PathBuf> {
        let installed = Path::new("/").join(path);
        if installed.exists() {
            return Ok(installed);
        }
        let missing = || Error::other(format!("install {package}: {path} is not there"));
        let folder = self.fetched.as_ref().ok_or_else(missing)?.join(package);
        if !folder.exists() {
            fetch(package, &folder)?;
        }
        let found = folder.join(path);
        if found.exists() { Ok(found) } else { Err(missing()) }
    }
}

/// Fetches a package and unpacks it into a folder.
fn fetch(package: &str, folder: &Path) -> Result<()> {
    let partial = folder.with_extension("partial");
    if partial.exists() {
        fs::remove_dir_all(&partial)?;
    }
    fs::create_dir_all(&partial)?;
    eprintln!("    fetching {package}");
    finish(polite("apt-get").args(["download", "-qq", package]).current_dir(&partial))?;
    let archives = fs::read_dir(&partial)?.collect::<Result<Vec<_>>>()?;
    for archive in archives {
        finish(polite("dpkg").arg("-x").arg(archive.path()).arg(&partial))?;
        fs::remove_file(archive.path())?;
    }
    fs::rename(partial, folder)
}
