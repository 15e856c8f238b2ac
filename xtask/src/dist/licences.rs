//! The licences of everything that is linked into the binaries, from the packages themselves: what
//! cargo resolved for this system, and the files that each package carries.

mod texts;

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use anyhow::{Context, Result, bail, ensure};
use serde_json::Value;

use super::checksums::files;
use crate::workspace::Workspace;

/// What is distributed.
const DISTRIBUTED: [&str; 2] = ["ledgerline", "ledgerline-cli"];

/// A package and what it says of its licence.
struct Package {
    name: String,
    expression: String,
    authors: Vec<String>,
    folder: PathBuf,
}

/// Everything as one text: packages with their licences, then every text once, with the packages
/// that carry it.
///
/// # Errors
///
/// When cargo does not answer, or a package has no licence that can be passed on.
pub fn text(workspace: &Workspace) -> Result<String> {
    let packages = linked(workspace)?;
    let mut text = String::from(
        "Ledgerline's binaries contain these packages and the Rust standard library. Each stays \
         under its own\nlicence. The source code of every package can be had under its name and \
         version from the registry of\nRust packages; none has been modified.\n\n",
    );
    let mut carried: BTreeMap<String, BTreeSet<&str>> = BTreeMap::new();
    for package in &packages {
        text += &format!("{:<40}{}\n", package.name, package.expression);
        for licence in package.texts()? {
            carried.entry(licence).or_default().insert(&package.name);
        }
    }
    text += "Rust standard library                   MIT OR Apache-2.0\n";
    carried
        .entry(texts::mit("The Rust Project Developers"))
        .or_default()
        .insert("Rust standard library");
    for (licence, of) in carried {
        let of = of.into_iter().collect::<Vec<_>>().join(", ");
        text += &format!("\n{}\n{of}\n\n{}\n", "=".repeat(80), licence.trim_end());
    }
    Ok(text)
}

/// The packages of others that are linked into what is distributed, in order.
fn linked(workspace: &Workspace) -> Result<Vec<Package>> {
    let metadata = metadata(workspace)?;
    let by_id = |list: &Value, key: &str| -> BTreeMap<String, Value> {
        let values = list.as_array().cloned().unwrap_or_default();
        values
            .into_iter()
            .filter_map(|value| Some((value[key].as_str()?.to_owned(), value)))
            .collect()
    };
    let packages = by_id(&metadata["packages"], "id");
    let nodes = by_id(&metadata["resolve"]["nodes"], "id");
    let is_ours = |package: &Value| package["source"].is_null();
    let mut reached = BTreeSet::new();
    let mut waiting: Vec<String> = packages
        .iter()
        .filter(|(_, p)| is_ours(p) && DISTRIBUTED.iter().any(|name| p["name"] == *name))
        .map(|(id, _)| id.clone())
        .collect();
    ensure!(waiting.len() == DISTRIBUTED.len(), "cargo does not know {DISTRIBUTED:?}");
    while let Some(id) = waiting.pop() {
        if reached.insert(id.clone()) {
            waiting.extend(dependencies(nodes.get(&id).context("a package without a node")?));
        }
    }
    let others = reached.iter().filter_map(|id| packages.get(id)).filter(|p| !is_ours(p));
    let mut others: Vec<Package> = others.map(Package::of).collect::<Result<_>>()?;
    others.sort_by(|one, other| one.name.cmp(&other.name));
    Ok(others)
}

/// What a package is linked with: neither what its tests need nor what its build does.
fn dependencies(node: &Value) -> Vec<String> {
    let list = |value: &Value| value.as_array().cloned().unwrap_or_default();
    list(&node["deps"])
        .iter()
        .filter(|dep| list(&dep["dep_kinds"]).iter().any(|kind| kind["kind"].is_null()))
        .filter_map(|dep| dep["pkg"].as_str().map(ToOwned::to_owned))
        .collect()
}

fn metadata(workspace: &Workspace) -> Result<Value> {
    let system = workspace.cargo_host()?;
    let output = workspace
        .cargo()
        .args(["metadata", "--format-version=1", "--locked", "--filter-platform", &system])
        .output()
        .context("cargo cannot be started")?;
    ensure!(
        output.status.success(),
        "cargo metadata failed:\n{}",
        String::from_utf8_lossy(&output.stderr)
    );
    Ok(serde_json::from_slice(&output.stdout)?)
}

impl Package {
    fn of(metadata: &Value) -> Result<Self> {
        let text = |key: &str| metadata[key].as_str().map(ToOwned::to_owned);
        let name = text("name").context("a package without a name")?;
        let manifest = PathBuf::from(text("manifest_path").context("a manifest")?);
        let authors = metadata["authors"].as_array().cloned().unwrap_or_default();
        Ok(Self {
            expression: text("license")
                .with_context(|| format!("{name} states no licence: look what it may be"))?,
            name: format!("{name} {}", text("version").unwrap_or_default()),
            authors: authors.iter().filter_map(|a| a.as_str().map(ToOwned::to_owned)).collect(),
            folder: manifest.parent().context("a package's folder")?.into(),
        })
    }

    /// The texts that it carries; where it carries none, the usual one of the licence it states.
    fn texts(&self) -> Result<Vec<String>> {
        let mut found = Vec::new();
        for file in files(&self.folder)?.iter().filter(|file| is_licence(file)) {
            let bytes = std::fs::read(file)?;
            found.push(String::from_utf8_lossy(&bytes).replace("\r\n", "\n"));
        }
        if found.is_empty() || self.only_parts_are_covered() {
            found.push(self.usual_text()?);
        }
        Ok(found)
    }

    /// Texts in a folder of their own are those of fonts and the like, not of the package.
    fn only_parts_are_covered(&self) -> bool {
        let direct = std::fs::read_dir(&self.folder).into_iter().flatten().flatten();
        !direct.map(|entry| entry.path()).any(|path| path.is_file() && is_licence(&path))
            && !self.folder.join("LICENSES").is_dir()
    }

    fn usual_text(&self) -> Result<String> {
        let holders = match self.authors[..] {
            [] => format!("the authors of {}", self.name),
            _ => self.authors.join(", "),
        };
        if self.expression.contains("MIT") {
            Ok(texts::mit(&holders))
        } else if self.expression == "ISC" {
            Ok(texts::isc(&holders))
        } else {
            bail!("{} carries no text of its licence, {}", self.name, self.expression)
        }
    }
}

/// Whether a file holds a licence, by its name.
fn is_licence(file: &Path) -> bool {
    let name = file.file_name().unwrap_or_default().to_string_lossy().to_lowercase();
    let extension = file.extension().unwrap_or_default().to_string_lossy().to_lowercase();
    let says_so = ["license", "licence", "copying", "notice", "ofl", "ufl"]
        .iter()
        .any(|word| name.starts_with(word) || name.contains(&format!("-{word}")));
    let is_code = ["rs", "c", "h", "cpp", "py", "sh", "js", "toml", "json", "yml", "html"];
    (says_so || name.starts_with("unlicense")) && !is_code.contains(&&*extension)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn licences_are_known_by_their_files_names() {
        for name in [
            "LICENSE",
            "LICENSE-MIT",
            "license-apache",
            "LICENSE.md",
            "COPYING",
            "UNLICENSE",
            "OFL.txt",
            "emoji-icon-font-mit-license.txt",
            "LICENSE-APACHE-2.0",
            "LICENSE_APACHE",
        ] {
            assert!(is_licence(Path::new(name)), "{name}");
        }
        for name in ["src/license.rs", "README.md", "copying.c", "flora.txt", "Cargo.toml"] {
            assert!(!is_licence(Path::new(name)), "{name}");
        }
    }
}
