//! Where the program is.

use std::env;
use std::path::{Path, PathBuf};

/// The first on the search path. Folders that are not absolute are passed over: a file that is read
/// must not bring the program with it.
pub(super) fn find() -> Option<PathBuf> {
    let name = format!("ffmpeg{}", env::consts::EXE_SUFFIX);
    let folders = env::var_os("PATH")?;
    env::split_paths(&folders)
        .filter(|folder| folder.is_absolute())
        .map(|folder| folder.join(&name))
        .find(|path| is_program(path))
}

#[cfg(unix)]
fn is_program(path: &Path) -> bool {
    use std::os::unix::fs::PermissionsExt;
    path.metadata().is_ok_and(|about| about.is_file() && about.permissions().mode() & 0o111 != 0)
}

#[cfg(not(unix))]
fn is_program(path: &Path) -> bool {
    path.is_file()
}
