//! Where everything goes that a user installs.
//!
//! Bundles: CLAP's `entry.h`, and "Plug-in locations" in the VST 3 developer pages. The command:
//! `~/.local/bin`, and data below `XDG_DATA_HOME` (XDG Base Directory Specification). Completions
//! and manual pages: where bash-completion, zsh's site functions, fish's vendor completions and
//! man-db look below those.

use std::path::PathBuf;

use anyhow::{Context, Result};

/// The places.
pub struct Places {
    /// The CLAP bundle.
    pub clap: PathBuf,
    /// The VST3 bundle.
    pub vst3: PathBuf,
    /// The command.
    pub command: PathBuf,
    /// Shells, and the files of their completions.
    pub completions: Vec<(&'static str, PathBuf)>,
    /// The folder of the manual's pages, where the system has a manual.
    pub manual: Option<PathBuf>,
}

impl Places {
    /// The places of this user.
    ///
    /// # Errors
    ///
    /// When the environment does not name the user's folder.
    pub fn find() -> Result<Self> {
        if cfg!(target_os = "windows") { Self::on_windows() } else { Self::elsewhere() }
    }

    fn on_windows() -> Result<Self> {
        let programs = folder_of("LOCALAPPDATA")?.join("Programs");
        let (common, own) = (programs.join("Common"), programs.join("Ledgerline"));
        Ok(Self {
            clap: common.join("CLAP").join("ledgerline.clap"),
            vst3: common.join("VST3").join("ledgerline.vst3"),
            command: own.join("ledgerline.exe"),
            completions: vec![("powershell", own.join("ledgerline.ps1"))],
            manual: None,
        })
    }

    fn elsewhere() -> Result<Self> {
        let home = folder_of("HOME")?;
        let [clap, vst3] = if cfg!(target_os = "macos") {
            ["CLAP", "VST3"].map(|folder| home.join("Library/Audio/Plug-Ins").join(folder))
        } else {
            [".clap", ".vst3"].map(|folder| home.join(folder))
        };
        // The specification has relative paths ignored.
        let data = std::env::var_os("XDG_DATA_HOME").map(PathBuf::from);
        let data = data
            .filter(|path| path.is_absolute())
            .unwrap_or_else(|| home.join(".local").join("share"));
        Ok(Self {
            clap: clap.join("ledgerline.clap"),
            vst3: vst3.join("ledgerline.vst3"),
            command: home.join(".local").join("bin").join("ledgerline"),
            completions: vec![
                ("bash", data.join("bash-completion/completions/ledgerline")),
                ("zsh", data.join("zsh/site-functions/_ledgerline")),
                ("fish", data.join("fish/vendor_completions.d/ledgerline.fish")),
            ],
            manual: Some(data.join("man").join("man1")),
        })
    }
}

fn folder_of(variable: &str) -> Result<PathBuf> {
    let folder = std::env::var_os(variable)
        .with_context(|| format!("the environment variable {variable} names no folder"))?;
    Ok(folder.into())
}
