//! Which test programs may hold a test, told by their sources: to ask the programs themselves, all
//! of them would have to be built.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};

use crate::workspace::Workspace;

/// Something that cargo builds to run tests in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Program {
    /// A folder of `tests/tests`.
    Tests(String),
    /// The tests within the crates, a program a crate.
    Units,
}

impl Program {
    /// What tells cargo to build nothing else.
    pub fn arguments(&self) -> Vec<&str> {
        match self {
            Self::Tests(name) => vec!["--test", name],
            Self::Units => vec!["--lib", "--bins"],
        }
    }

    /// A test's name with that of the program in front.
    pub fn name_of(&self, test: &str) -> String {
        match self {
            Self::Tests(name) => format!("{name}::{test}"),
            Self::Units => test.to_owned(),
        }
    }
}

/// The programs that may hold tests of such names; the others hold none for certain.
///
/// # Errors
///
/// When the sources cannot be read.
pub fn that_may_hold(names: &[String], workspace: &Workspace) -> Result<Vec<Program>> {
    let mut programs = Vec::new();
    for folder in folders(&workspace.root.join("tests").join("tests"))? {
        let name = folder.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let text = name.clone() + &text(&folder)?;
        if may_hold(&text, names) {
            programs.push(Program::Tests(name));
        }
    }
    let mut crates = folders(&workspace.root.join("plugin"))?;
    crates.push(workspace.root.join("xtask"));
    for folder in crates {
        if !programs.contains(&Program::Units) && may_hold(&text(&folder.join("src"))?, names) {
            programs.push(Program::Units);
        }
    }
    Ok(programs)
}

/// Every part of a test's path is a name that stands in the source of its program.
fn may_hold(text: &str, names: &[String]) -> bool {
    names.iter().any(|name| name.split("::").all(|part| text.contains(part)))
}

fn folders(parent: &Path) -> Result<Vec<PathBuf>> {
    let mut folders = Vec::new();
    for entry in fs::read_dir(parent).with_context(|| parent.display().to_string())? {
        let path = entry?.path();
        if path.is_dir() {
            folders.push(path);
        }
    }
    folders.sort();
    Ok(folders)
}

/// All sources in a folder.
fn text(folder: &Path) -> Result<String> {
    let mut whole = String::new();
    for entry in fs::read_dir(folder).with_context(|| folder.display().to_string())? {
        let path = entry?.path();
        if path.is_dir() {
            whole += &text(&path)?;
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            whole += &fs::read_to_string(&path)?;
        }
    }
    Ok(whole)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_looked_for_part_by_part() {
        let text = "mod state; in_both_formats!(comes_back_after_a_reload);";
        let holds = |name: &str| may_hold(text, &[name.to_owned()]);
        assert!(holds("state::comes_back_after"));
        assert!(holds("te::comes_back"));
        assert!(holds("::comes"));
        assert!(!holds("te::goes"));
    }
}
