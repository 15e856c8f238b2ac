//! What this machine has beyond the Rust toolchain. Each question is answered with a reason that
//! says what to do.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use ledgerline_tests::real_chains::library::Library;
use ledgerline_tests::real_chains::{piece, recipes};

use crate::run::succeeds;
use crate::workspace::Workspace;

/// The host from PyPI, at the version that the tests were written with.
const THIRD_PARTY_HOST: &str = "pedalboard==0.9.26";

/// A Python that has the third-party host, in an environment of its own under the target folder.
///
/// # Errors
///
/// With the reason why there is none.
pub fn third_party_host(workspace: &Workspace) -> Result<PathBuf, String> {
    let environment = workspace.target.join("third-party");
    let python = if cfg!(windows) {
        environment.join("Scripts").join("python.exe")
    } else {
        environment.join("bin").join("python")
    };
    if has_host(&python) {
        return Ok(python);
    }
    eprintln!("    Making a Python environment with {THIRD_PARTY_HOST}");
    let interpreter = ["python3", "python"]
        .into_iter()
        .find(|name| succeeds(Command::new(name).arg("--version")))
        .ok_or("there is no python3: install Python 3.9 or later")?;
    run(Command::new(interpreter).args(["-m", "venv", "--clear"]).arg(&environment))
        .map_err(|error| format!("python3 cannot make an environment (python3-venv?): {error}"))?;
    run(Command::new(&python).args([
        "-m",
        "pip",
        "install",
        "--quiet",
        "--disable-pip-version-check",
        "--only-binary=:all:",
        THIRD_PARTY_HOST,
    ]))
    .map_err(|error| format!("pip cannot install {THIRD_PARTY_HOST}: {error}"))?;
    if has_host(&python) {
        Ok(python)
    } else {
        Err(format!("{THIRD_PARTY_HOST} is installed but cannot be imported"))
    }
}

fn has_host(python: &Path) -> bool {
    python.exists() && succeeds(Command::new(python).args(["-c", "import pedalboard, numpy"]))
}

/// Runs a command; the error is the last line that it printed.
fn run(command: &mut Command) -> Result<(), String> {
    let output = command.output().map_err(|error| error.to_string())?;
    if output.status.success() {
        return Ok(());
    }
    let printed = String::from_utf8_lossy(&output.stderr).into_owned()
        + &String::from_utf8_lossy(&output.stdout);
    let last = printed.lines().rfind(|line| !line.trim().is_empty());
    Err(last.unwrap_or("it printed nothing").to_owned())
}

/// Whether programs are installed.
///
/// # Errors
///
/// With the names of those that are not.
pub fn programs(names: &[&str]) -> Result<(), String> {
    let missing: Vec<&str> = names
        .iter()
        .filter(|name| Command::new(name).arg("--version").output().is_err())
        .copied()
        .collect();
    if missing.is_empty() { Ok(()) } else { Err(format!("install {}", missing.join(", "))) }
}

/// Whether the packages are installed that hold the tests' music and speech.
///
/// # Errors
///
/// With what is missing.
pub fn real_sound() -> Result<(), String> {
    let missing = piece::missing(&recipes::SMALL, &Library::installed());
    if missing.is_empty() { Ok(()) } else { Err(missing.join("; ")) }
}

/// Whether a driver is there that can draw without a display.
///
/// # Errors
///
/// With the reason why not.
pub fn vulkan_driver() -> Result<(), String> {
    if !cfg!(target_os = "linux") || std::env::var_os("VK_DRIVER_FILES").is_some() {
        // Windows and macOS bring a driver of their own.
        return Ok(());
    }
    let folders = ["/usr/share/vulkan/icd.d", "/usr/local/share/vulkan/icd.d", "/etc/vulkan/icd.d"];
    let drivers = folders.into_iter().filter_map(|folder| fs::read_dir(folder).ok()).flatten();
    if drivers.count() > 0 {
        Ok(())
    } else {
        Err("there is no Vulkan driver: install mesa-vulkan-drivers, which needs no GPU".into())
    }
}
