//! Bundles and command in use, wherever they are.
#![cfg_attr(not(target_os = "linux"), allow(dead_code, reason = "used by tests of one system"))]

use std::path::{Path, PathBuf};
use std::process::Command;

use ledgerline_tests::hosts::{Host, Layout, Setup, Take};
use ledgerline_tests::wav;
use serde_json::Value;

/// A second of a square wave at −6.02 dBFS, whose levels need no formula.
fn square() -> Vec<f32> {
    (0..48_000).map(|n| if n / 24 % 2 == 0 { 0.5 } else { -0.5 }).collect()
}

/// Panics unless a bundle passes audio in a host.
pub fn assert_plays<H: Host>(bundle: &Path) {
    let mut host = H::load(bundle).unwrap_or_else(|error| panic!("{}: {error}", bundle.display()));
    host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
    let take = [square(), square()];
    assert_eq!(host.play(&Take::new(&take)).expect("audio"), take, "through {}", H::FORMAT);
    host.deactivate();
}

/// The command, in an environment in which nothing is found.
fn bare(command: &Path) -> Command {
    let mut bare = Command::new(command);
    bare.env_clear();
    bare
}

/// Panics unless the command reads a file.
pub fn assert_reads(command: &Path, folder: &Path) {
    let file = folder.join("square.wav").display().to_string();
    wav::write(&file, 48_000, &[&square(), &square()]);
    let output = bare(command)
        .args(["read", "--json", "--fail-on", "never", &file])
        .output()
        .expect("the command can be started");
    let text = String::from_utf8_lossy(&output.stdout);
    let record: Value = serde_json::from_str(text.trim())
        .unwrap_or_else(|error| panic!("{error} in {text}{output:?}"));
    let peak_dbfs = record["reading"]["whole"]["bus"]["sample_peak_dbfs"].as_f64();
    let expected_dbfs = 20.0 * 0.5_f64.log10();
    assert!(peak_dbfs.is_some_and(|db| (db - expected_dbfs).abs() < 1e-9), "{peak_dbfs:?}");
}

/// What the command can do, as its help lists it.
pub fn tasks(command: &Path) -> Vec<String> {
    let output = bare(command).arg("--help").output().expect("the command can be started");
    let help = String::from_utf8(output.stdout).expect("text");
    let listed = help.lines().skip_while(|line| *line != "Commands:").skip(1);
    let tasks: Vec<String> = listed
        .take_while(|line| !line.is_empty())
        .filter_map(|line| line.strip_prefix("  ")?.split(' ').next().map(ToOwned::to_owned))
        .filter(|task| !task.is_empty() && task != "help")
        .collect();
    assert!(tasks.len() >= 6, "{help}");
    tasks
}

/// Panics unless a text names every task.
pub fn assert_names_tasks(file: &Path, tasks: &[String]) {
    let text =
        std::fs::read_to_string(file).unwrap_or_else(|error| panic!("{}: {error}", file.display()));
    for task in tasks {
        assert!(text.contains(task.as_str()), "{} does not name {task}", file.display());
    }
}

/// Panics unless there is a manual page for the command and one for each task.
pub fn assert_manual(folder: &Path, tasks: &[String]) {
    assert_names_tasks(&folder.join("ledgerline.1"), tasks);
    for task in tasks {
        let page = folder.join(format!("ledgerline-{task}.1"));
        let text = std::fs::read_to_string(&page)
            .unwrap_or_else(|error| panic!("{}: {error}", page.display()));
        assert!(text.contains(".SH NAME"), "{} is no page", page.display());
    }
}

/// All files in a folder and below.
pub fn files(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() { found.extend(files(&path)) } else { found.push(path) }
    }
    found
}
