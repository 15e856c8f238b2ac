//! What the project is built from: under which licences, from where, and how often.
//!
//! Cargo is asked for one system, whatever this one is, so that the lists are the same on all.

mod expression;

use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

use serde_json::Value;

const SYSTEM: &str = "x86_64-unknown-linux-gnu";
const LOCK: &str = include_str!("../../../Cargo.lock");

/// Licences that ask for no more than their text beside the program.
const ALLOWED: [&str; 4] = ["MIT", "Apache-2.0", "ISC", "Zlib"];

/// Other licences: beginnings of the names of those that may have them, and why they may.
const EXCEPTIONS: [(&str, &[&str], &str); 8] = [
    (
        "MPL-2.0",
        &["symphonia", "triple_buffer"],
        "binds its own files, which are used unchanged; the archive says where their source is",
    ),
    (
        "MPL-2.0",
        &["colored", "cssparser", "dtoa-short", "selectors"],
        "binds its own files, and only the tests are linked with them",
    ),
    ("BSD-3-Clause", &["unsafe-libopus"], "asks for its text beside the program, as MIT does"),
    ("BSD-2-Clause", &["arrayref"], "asks for its text beside the program, as MIT does"),
    ("BSD-1-Clause", &["nice-assert-no-alloc"], "asks for its text beside the source alone"),
    (
        "Unicode-3.0",
        &["unicode-ident", "unicode-properties"],
        "tables of characters; asks for its text beside them, as MIT does",
    ),
    ("OFL-1.1", &["epaint_default_fonts"], "fonts, which may go along with any program"),
    ("Ubuntu-font-1.0", &["epaint_default_fonts"], "fonts, which may go along with any program"),
];

/// What is there more than once: its name, who asks for an older version, and why that stays.
const SEVERAL: [(&str, &[&str], &str); 10] = [
    ("bitflags", &["ebur128"], "the newest ebur128 asks for it"),
    ("calloop", &["winit"], "the newest winit asks for it, through what draws pictures in tests"),
    ("hashbrown", &["gpu-allocator"], "the newest gpu-allocator asks for it, in tests"),
    ("linux-raw-sys", &["rustix"], "goes with the two versions of rustix"),
    ("miniz_oxide", &["png"], "the newest png asks for it"),
    ("rustc-hash", &["naga", "naga-types", "wgpu-core"], "the newest wgpu asks for it, in tests"),
    ("rustix", &["calloop", "winit"], "goes with winit and its calloop"),
    (
        "syn",
        &[
            "derive_more-impl",
            "maud_macros",
            "nice-plug-derive",
            "phf_macros",
            "proc-macro2-diagnostics",
            "thiserror-impl",
            "tracing-attributes",
            "zerocopy-derive",
        ],
        "macros move to a new one by and by; it is in no binary",
    ),
    ("thiserror", &["calloop"], "winit's calloop asks for it"),
    ("thiserror-impl", &["thiserror"], "goes with the two versions of thiserror"),
];

/// A package, ours or another's.
struct Package {
    name: String,
    version: String,
    licence: String,
    is_ours: bool,
    /// Names of those that depend on it.
    wanted_by: BTreeSet<String>,
}

#[test]
fn every_licence_is_one_that_a_user_can_keep() {
    let mut used = BTreeSet::new();
    for package in packages().iter().filter(|package| !package.is_ours) {
        let Package { name, version, licence, .. } = package;
        let accepted = expression::holds(licence, &mut |licence| {
            if ALLOWED.contains(&licence) {
                return true;
            }
            let exception = EXCEPTIONS.iter().position(|(of, names, _)| {
                *of == licence && names.iter().any(|start| name.starts_with(start))
            });
            used.extend(exception);
            exception.is_some()
        });
        assert!(accepted, "{name} {version}: {licence:?} is neither allowed nor excepted");
    }
    for (index, (licence, names, _)) in EXCEPTIONS.iter().enumerate() {
        assert!(used.contains(&index), "nobody needs the exception of {licence} for {names:?}");
    }
}

#[test]
fn everything_comes_from_the_registry() {
    let ours = packages().iter().filter(|package| package.is_ours).count();
    let packages = LOCK.matches("[[package]]").count();
    let sources: Vec<&str> =
        LOCK.lines().filter_map(|line| line.strip_prefix("source = \"")).collect();
    for source in &sources {
        assert!(source.starts_with("registry+"), "{source}");
    }
    // What has no source is a path.
    assert_eq!(sources.len() + ours, packages, "a path leads out of the workspace");
}

#[test]
fn what_is_there_more_than_once_is_known_and_has_a_reason() {
    let mut by_name = BTreeMap::<String, Vec<Package>>::new();
    for package in packages() {
        by_name.entry(package.name.clone()).or_default().push(package);
    }
    by_name.retain(|_, versions| versions.len() > 1);
    for versions in by_name.values_mut() {
        versions.sort_by_key(|package| numbers(&package.version));
        versions.pop();
    }
    let wanted_by = |olders: &Vec<Package>| -> BTreeSet<String> {
        olders.iter().flat_map(|package| package.wanted_by.clone()).collect()
    };
    let found: BTreeMap<&str, BTreeSet<String>> =
        by_name.iter().map(|(name, olders)| (name.as_str(), wanted_by(olders))).collect();
    let listed: BTreeMap<&str, BTreeSet<String>> = SEVERAL
        .iter()
        .map(|(name, by, _)| (*name, by.iter().map(|name| (*name).to_owned()).collect()))
        .collect();
    for (name, by) in &found {
        assert_eq!(listed.get(name), Some(by), "{name} is there more than once");
    }
    for name in listed.keys() {
        assert!(found.contains_key(name), "{name} is there only once now: take it off the list");
    }
}

/// A version as numbers, for its order.
fn numbers(version: &str) -> Vec<u64> {
    version.split(['.', '-', '+']).filter_map(|part| part.parse().ok()).collect()
}

/// Every package that is built on the system.
fn packages() -> Vec<Package> {
    let metadata = metadata();
    let members = list(&metadata["workspace_members"]);
    let mut packages = BTreeMap::new();
    for package in list(&metadata["packages"]) {
        packages.insert(text(&package["id"]), Package::of(package, members));
    }
    for node in list(&metadata["resolve"]["nodes"]) {
        let name = packages[&text(&node["id"])].name.clone();
        for wanted in list(&node["dependencies"]) {
            let wanted = packages.get_mut(&text(wanted)).expect("a package");
            wanted.wanted_by.insert(name.clone());
        }
    }
    assert!(packages.len() > 100, "cargo lists {} packages", packages.len());
    packages.into_values().collect()
}

fn metadata() -> Value {
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version=1", "--locked", "--filter-platform", SYSTEM])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("cargo runs");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).expect("JSON")
}

fn list(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

fn text(value: &Value) -> String {
    value.as_str().unwrap_or_default().to_owned()
}

impl Package {
    fn of(metadata: &Value, members: &[Value]) -> Self {
        Self {
            name: text(&metadata["name"]),
            version: text(&metadata["version"]),
            licence: text(&metadata["license"]),
            is_ours: members.contains(&metadata["id"]),
            wanted_by: BTreeSet::new(),
        }
    }
}
