//! The installation into a home of the test's own, and its end.

use std::path::{Path, PathBuf};
use std::process::Command;

use ledgerline_tests::built::xtask;
use ledgerline_tests::folder::Folder;
use ledgerline_tests::hosts::{ClapHost, Vst3Host};

use super::used::{assert_manual, assert_names_tasks, assert_plays, assert_reads, files, tasks};

/// Runs a task with another home, and the toolchain's own where it was. Returns what it printed.
fn run(task: &str, home: &Path) -> String {
    let kept = |variable: &str, folder: &str| -> PathBuf {
        let usual = || std::env::home_dir().expect("a home").join(folder);
        std::env::var_os(variable).map_or_else(usual, PathBuf::from)
    };
    let output = Command::new(xtask())
        .arg(task)
        .env("CARGO_HOME", kept("CARGO_HOME", ".cargo"))
        .env("RUSTUP_HOME", kept("RUSTUP_HOME", ".rustup"))
        .env("HOME", home)
        .env_remove("XDG_DATA_HOME")
        .output()
        .expect("the tasks can be started");
    let complaint = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{task}: {complaint}");
    String::from_utf8(output.stdout).expect("text")
}

#[test]
#[ignore = "needs what `cargo xtask test` builds"]
fn everything_is_installed_where_it_says_and_nothing_is_left() {
    let home = Folder::new("home");
    let work = Folder::new("home-work");
    let said = run("install", home.folder());
    let installed = files(home.folder());
    for file in &installed {
        // Of a folder that is a bundle, the bundle is told.
        let told = file.ancestors().any(|part| said.contains(&format!(": {}\n", part.display())));
        assert!(told, "{} is not told of:\n{said}", file.display());
    }
    assert_plays::<ClapHost>(&home.join(".clap/ledgerline.clap"));
    assert_plays::<Vst3Host>(&home.join(".vst3/ledgerline.vst3"));
    let command = home.join(".local/bin/ledgerline");
    assert_reads(&command, work.folder());
    let tasks = tasks(&command);
    let data = home.join(".local/share");
    for completions in [
        "bash-completion/completions/ledgerline",
        "zsh/site-functions/_ledgerline",
        "fish/vendor_completions.d/ledgerline.fish",
    ] {
        assert_names_tasks(&data.join(completions), &tasks);
    }
    assert_manual(&data.join("man/man1"), &tasks);
    assert!(said.contains("PATH"), "the folder is on no path of this test:\n{said}");

    // A second time, over what is there.
    run("install", home.folder());
    assert_eq!(files(home.folder()).len(), installed.len());
    let stranger = data.join("man/man1/ledger.1");
    std::fs::write(&stranger, "somebody else's").expect("a file");
    run("uninstall", home.folder());
    assert_eq!(files(home.folder()), [stranger]);
}
