//! The archive, unpacked by the system's own tools and used without anything of the build.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::Command;

use ledgerline_tests::built::archive;
use ledgerline_tests::folder::Folder;
use ledgerline_tests::hosts::{ClapHost, Vst3Host};

use super::used::{assert_manual, assert_names_tasks, assert_plays, assert_reads, files, tasks};

/// Libraries of the C library's and the compiler's own, which every system has that runs programs.
const USUAL: [&str; 6] = [
    "libc.so.6",
    "libm.so.6",
    "libgcc_s.so.1",
    "ld-linux-x86-64.so.2",
    "ld-linux-aarch64.so.1",
    "libdl.so.2",
];

/// What a program prints.
///
/// # Panics
///
/// When it fails.
fn printed(command: &mut Command) -> String {
    let output = command.output().unwrap_or_else(|error| panic!("{command:?}: {error}"));
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    let complaint = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{command:?}: {text}{complaint}");
    text
}

/// Unpacks the archive and returns its folder.
fn unpacked(into: &Folder) -> PathBuf {
    let archive = archive();
    let folder = archive.parent().expect("a folder");
    let sum = format!("{}.sha256", archive.display());
    printed(Command::new("sha256sum").args(["--check", "--strict", &sum]).current_dir(folder));
    printed(Command::new("tar").arg("-xzf").arg(&archive).current_dir(into.folder()));
    let name = archive.file_name().expect("a name").to_string_lossy().into_owned();
    let name = name.strip_suffix(".tar.gz").expect("the archive's ending");
    assert!(name.contains(std::env::consts::OS) && name.contains(std::env::consts::ARCH), "{name}");
    into.join(name)
}

#[test]
#[ignore = "needs the archive that `cargo xtask test` makes"]
fn every_file_has_its_checksum() {
    let into = Folder::new("archive-sums");
    let folder = unpacked(&into);
    printed(
        Command::new("sha256sum").args(["--check", "--strict", "SHA256SUMS"]).current_dir(&folder),
    );
    let list = std::fs::read_to_string(folder.join("SHA256SUMS")).expect("the list");
    let listed: BTreeSet<PathBuf> = list
        .lines()
        .map(|line| folder.join(line.split_once("  ").expect("a sum and a name").1))
        .chain([folder.join("SHA256SUMS")])
        .collect();
    assert_eq!(listed, files(&folder).into_iter().collect());
}

#[test]
#[ignore = "needs the archive that `cargo xtask test` makes"]
fn bundles_and_command_work_where_nothing_is_built() {
    let into = Folder::new("archive-used");
    let folder = unpacked(&into);
    assert_plays::<ClapHost>(&folder.join("ledgerline.clap"));
    assert_plays::<Vst3Host>(&folder.join("ledgerline.vst3"));
    let command = folder.join("bin").join("ledgerline");
    assert_reads(&command, into.folder());
    let tasks = tasks(&command);
    for completions in ["ledgerline", "_ledgerline", "ledgerline.fish", "ledgerline.ps1"] {
        assert_names_tasks(&folder.join("completions").join(completions), &tasks);
    }
    assert_manual(&folder.join("man").join("man1"), &tasks);
}

/// The libraries that a binary asks the loader for.
fn needed(binary: &Path) -> BTreeSet<String> {
    let headers = printed(Command::new("objdump").arg("-p").arg(binary));
    let name = |line: &str| Some(line.trim().strip_prefix("NEEDED")?.trim().to_owned());
    headers.lines().filter_map(name).collect()
}

#[test]
#[ignore = "needs the archive that `cargo xtask test` makes"]
fn nothing_is_linked_but_what_every_system_has_and_the_text_says() {
    let into = Folder::new("archive-needs");
    let folder = unpacked(&into);
    let text = std::fs::read_to_string(folder.join("INSTALL.txt")).expect("the text");
    let vst3 = files(&folder.join("ledgerline.vst3"))
        .into_iter()
        .find(|file| file.extension().is_some_and(|extension| extension == "so"));
    for binary in [
        folder.join("ledgerline.clap"),
        vst3.expect("a binary in the VST3 bundle"),
        folder.join("bin").join("ledgerline"),
    ] {
        let needed = needed(&binary);
        assert!(needed.contains("libc.so.6"), "{}: {needed:?}", binary.display());
        for library in needed {
            assert!(USUAL.contains(&&*library), "{} needs {library}", binary.display());
            assert!(text.contains(&library), "the text does not say {library}");
        }
    }
}

#[test]
#[ignore = "needs the archive that `cargo xtask test` makes"]
fn every_package_that_is_linked_has_its_licence_in_it() {
    let into = Folder::new("archive-licences");
    let folder = unpacked(&into);
    let licences = std::fs::read_to_string(folder.join("THIRD-PARTY-LICENCES.txt"));
    let licences = licences.expect("the licences");
    let (list, texts) = licences.split_once("====").expect("a list and texts");
    let tree = printed(
        Command::new(env!("CARGO"))
            .args(["tree", "--locked", "--offline", "--edges", "normal", "--prefix", "none"])
            .args(["--package", "ledgerline", "--package", "ledgerline-cli"])
            .current_dir(env!("CARGO_MANIFEST_DIR")),
    );
    let mut packages = BTreeSet::new();
    for line in tree.lines().filter(|line| !line.contains("(/")) {
        let mut words = line.split(' ');
        if let (Some(name), Some(version)) = (words.next(), words.next()) {
            packages.insert(format!("{name} {}", version.trim_start_matches('v')));
        }
    }
    assert!(packages.len() > 100, "{packages:?}");
    for package in packages {
        let listed = list.lines().any(|line| line.starts_with(&format!("{package} ")));
        assert!(listed, "{package} is not listed");
        assert!(texts.contains(&package), "{package} has no text");
    }
}
