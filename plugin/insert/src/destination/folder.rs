//! Where the log goes: the folder that the environment names, else the platform's folder for an
//! application's data (XDG Base Directory Specification on Linux).

use std::path::PathBuf;

/// The environment variable that names a folder and turns the log on.
pub const LOG_VARIABLE: &str = "LEDGERLINE_LOG";

/// The folder that the environment names, if it does.
#[must_use]
pub fn forced_folder() -> Option<PathBuf> {
    path_in(LOG_VARIABLE)
}

/// `Ledgerline/log` where the platform keeps an application's data.
pub(super) fn default_folder() -> Option<PathBuf> {
    Some(data_folder()?.join("Ledgerline").join("log"))
}

#[cfg(target_os = "windows")]
fn data_folder() -> Option<PathBuf> {
    path_in("LOCALAPPDATA")
}

#[cfg(target_os = "macos")]
fn data_folder() -> Option<PathBuf> {
    Some(path_in("HOME")?.join("Library").join("Application Support"))
}

#[cfg(not(any(target_os = "windows", target_os = "macos")))]
fn data_folder() -> Option<PathBuf> {
    // The specification has relative paths ignored.
    let named = path_in("XDG_DATA_HOME").filter(|path| path.is_absolute());
    named.or_else(|| Some(path_in("HOME")?.join(".local").join("share")))
}

fn path_in(variable: &str) -> Option<PathBuf> {
    std::env::var_os(variable).filter(|value| !value.is_empty()).map(PathBuf::from)
}
