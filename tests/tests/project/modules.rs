//! The modules of a crate and what each names in its `use` lines, read from the sources.

mod uses;

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// The path of a module in its crate; empty for the crate's root.
pub type Name = Vec<String>;

/// A module.
pub struct Module {
    /// Its source without comments and without tests.
    pub source: String,
    /// Other modules of its crate that it names in `use` lines, those that it only hands on apart.
    pub uses: BTreeSet<Name>,
}

/// The modules of a crate, by name.
pub struct Crate {
    /// Where its sources are, from the workspace's root.
    pub folder: &'static str,
    /// The modules.
    pub modules: BTreeMap<Name, Module>,
}

/// Where the crates' sources are, from the workspace's root.
pub const CRATES: [&str; 6] = [
    "plugin/measure/src",
    "plugin/report/src",
    "plugin/insert/src",
    "plugin/cli/src",
    "xtask/src",
    "tests/src",
];

impl Crate {
    /// Reads a crate's sources.
    pub fn read(folder: &'static str) -> Self {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join(folder);
        let sources: BTreeMap<Name, String> = files(&root)
            .into_iter()
            .map(|path| (name(&root, &path), fs::read_to_string(path).expect("a source")))
            .filter(|(name, _)| name.last().is_none_or(|last| last != "tests"))
            .map(|(name, text)| (name, uses::without_comments_and_tests(&text)))
            .collect();
        let modules = sources
            .iter()
            .map(|(name, source)| {
                let uses = uses::of(source, name, &sources);
                (name.clone(), Module { source: source.clone(), uses })
            })
            .collect();
        Self { folder, modules }
    }

    /// Every crate.
    pub fn all() -> impl Iterator<Item = Self> {
        CRATES.into_iter().map(Self::read)
    }
}

/// A module's name as it is written.
pub fn written(name: &[String]) -> String {
    if name.is_empty() { "the root".to_owned() } else { name.join("::") }
}

fn files(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).expect("a folder of sources") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            found.extend(files(&path));
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            found.push(path);
        }
    }
    found
}

fn name(root: &Path, path: &Path) -> Name {
    let within = path.strip_prefix(root).expect("a file of the crate").with_extension("");
    let parts: Name = within.iter().map(|part| part.to_string_lossy().into_owned()).collect();
    match parts.as_slice() {
        [only] if only == "lib" || only == "main" => Vec::new(),
        _ => parts,
    }
}
