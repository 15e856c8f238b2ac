//! What the crates and their parts must not know: the measures stand alone, the editor computes no
//! level, the audio thread waits for nothing, and reports know neither plugins nor files.

use std::process::Command;

use crate::modules::{Crate, written};

/// Crates that would bring I/O formats, hosts or drawing into the measures.
const FOREIGN_TO_MEASURES: [&str; 8] =
    ["egui", "nice-plug", "serde_json", "hound", "clap", "clack-host", "vst3", "rtrb"];

/// Crates that would bring plugins, windows or files into the reports.
const FOREIGN_TO_REPORTS: [&str; 7] =
    ["egui", "nice-plug", "hound", "clack-host", "vst3", "rtrb", "symphonia"];

/// What measures: names that the editor has no business with.
const MEASURING: [&str; 10] = [
    "measure::Meter",
    "Meter::new",
    "detector::Bank",
    "detector::Rms",
    "detector::Needle",
    "detector::QuasiPeak",
    "detector::Momentary",
    "Level::from_power",
    "Level::from_amplitude",
    "log10",
];

/// Modules of the insert that run on the audio thread while audio plays.
const AUDIO_THREAD: [&str; 14] = [
    "audio",
    "audio::passing",
    "audio::transport",
    "choices",
    "entries::stream",
    "listen",
    "listen::fade",
    "listen::shift",
    "rebuild::succession",
    "side_chain",
    "sum_test::bus",
    "sum_test::feed",
    "sum_test::place",
    "export::channels",
];

/// Locks, files and the system. What allocates is caught where it runs: debug builds abort.
const WAITING: [&str; 10] = [
    "Mutex",
    "RwLock",
    "Condvar",
    "Once",
    "std::fs",
    "std::io",
    "std::net",
    "println!",
    "format!",
    "thread::spawn",
];

/// Asks cargo for the packages that a crate is built from.
fn tree(package: &str) -> String {
    let output = Command::new(env!("CARGO"))
        .args(["tree", "--offline", "-p", package, "-e", "normal", "--prefix", "none"])
        .output()
        .expect("cargo runs");
    String::from_utf8_lossy(&output.stdout).into_owned()
}

fn assert_without(package: &str, known: &str, foreign: &[&str]) {
    let tree = tree(package);
    assert!(tree.contains(known), "cargo lists no dependencies: {tree}");
    for line in tree.lines() {
        let name = line.split_whitespace().next().unwrap_or_default();
        assert!(!foreign.contains(&name), "{package} depends on {name}:\n{tree}");
    }
}

/// Panics if one of the modules names something that it must not.
fn assert_unnamed(krate: &Crate, is_guarded: impl Fn(&str) -> bool, names: &[&str], why: &str) {
    let mut guarded = 0;
    for (name, module) in &krate.modules {
        let module_name = written(name);
        if !is_guarded(&module_name) {
            continue;
        }
        guarded += 1;
        for forbidden in names {
            let found = module.source.match_indices(forbidden).any(|(at, _)| {
                let before = module.source[..at].chars().next_back();
                let after = module.source[at + forbidden.len()..].chars().next();
                let is_part = |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || c == '_');
                !is_part(before) && !is_part(after)
            });
            assert!(!found, "{}: {module_name} names {forbidden}: {why}", krate.folder);
        }
    }
    assert!(guarded > 0, "no module is guarded");
}

#[test]
fn the_measures_depend_on_no_plugin_window_or_file_crate() {
    assert_without("ledgerline-measure", "realfft", &FOREIGN_TO_MEASURES);
}

#[test]
fn reports_know_no_plugin_and_no_file() {
    assert_without("ledgerline-report", "plotters", &FOREIGN_TO_REPORTS);
    let report = Crate::read("plugin/report/src");
    let files = ["std::fs", "std::path", "std::env", "std::net", "std::process"];
    assert_unnamed(&report, |_| true, &files, "reports are made from records alone");
}

#[test]
fn the_measures_touch_no_file() {
    let measure = Crate::read("plugin/measure/src");
    let system = ["std::fs", "std::io", "std::net", "std::env", "std::process", "unsafe"];
    assert_unnamed(&measure, |_| true, &system, "the measures take samples and give readings");
}

#[test]
fn the_editor_computes_no_level() {
    let insert = Crate::read("plugin/insert/src");
    let is_editor = |name: &str| name == "editor" || name.starts_with("editor::");
    assert_unnamed(&insert, is_editor, &MEASURING, "the editor draws what was measured");
}

#[test]
fn what_runs_on_the_audio_thread_names_no_lock_and_no_file() {
    let insert = Crate::read("plugin/insert/src");
    for name in AUDIO_THREAD {
        let there = insert.modules.keys().any(|module| written(module) == name);
        assert!(there, "there is no module {name}: the list is behind the code");
    }
    let is_audio = |name: &str| AUDIO_THREAD.contains(&name);
    assert_unnamed(&insert, is_audio, &WAITING, "nothing on the audio thread waits");
}
