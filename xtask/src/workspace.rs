//! Where things are, as cargo knows it.

use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::process::Command;

use anyhow::{Context, Result, ensure};

/// The folders of this checkout.
#[derive(Debug, Clone)]
pub struct Workspace {
    /// Top level of the checkout.
    pub root: PathBuf,
    /// Cargo's target folder, wherever the environment or the configuration put it.
    pub target: PathBuf,
}

impl Workspace {
    /// Asks cargo.
    ///
    /// # Errors
    ///
    /// When cargo cannot be started or does not answer.
    pub fn find() -> Result<Self> {
        let output = Command::new(cargo())
            .args(["metadata", "--no-deps", "--format-version=1", "--offline"])
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .output()
            .context("cargo cannot be started")?;
        ensure!(
            output.status.success(),
            "cargo metadata failed:\n{}",
            String::from_utf8_lossy(&output.stderr)
        );
        let metadata: serde_json::Value = serde_json::from_slice(&output.stdout)?;
        let folder = |key: &str| {
            metadata[key].as_str().map(PathBuf::from).with_context(|| format!("no {key}"))
        };
        Ok(Self { root: folder("workspace_root")?, target: folder("target_directory")? })
    }

    /// Folder of the bundles.
    #[must_use]
    pub fn bundled(&self) -> PathBuf {
        self.target.join("bundled")
    }

    /// A cargo command at the top level.
    #[must_use]
    pub fn cargo(&self) -> Command {
        let mut command = Command::new(cargo());
        command.current_dir(&self.root);
        command
    }

    /// The system that cargo builds for where nobody says otherwise, as a target triple.
    ///
    /// # Errors
    ///
    /// When cargo does not answer.
    pub fn cargo_host(&self) -> Result<String> {
        let output = self.cargo().arg("-vV").output().context("cargo cannot be started")?;
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        let host = text.lines().find_map(|line| line.strip_prefix("host: "));
        Ok(host.context("cargo does not say what it builds for")?.to_owned())
    }

    /// A path as short as it can be said from here.
    #[must_use]
    pub fn short<'a>(&self, path: &'a Path) -> &'a Path {
        path.strip_prefix(&self.root).unwrap_or(path)
    }
}

/// The cargo that runs this task.
fn cargo() -> OsString {
    std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into())
}
