//! What the crates must not know: the measures stand alone, without files, plugins and windows.

use std::process::Command;

/// Crates that would bring I/O formats, hosts or drawing into the measures.
const FOREIGN: [&str; 8] =
    ["egui", "nice-plug", "serde_json", "hound", "clap", "clack-host", "vst3", "rtrb"];

#[test]
fn the_measures_depend_on_no_plugin_window_or_file_crate() {
    let output = Command::new(env!("CARGO"))
        .args(["tree", "--offline", "-p", "ledgerline-measure", "-e", "normal", "--prefix", "none"])
        .output()
        .expect("cargo runs");
    let tree = String::from_utf8_lossy(&output.stdout);
    assert!(tree.contains("realfft"), "cargo lists no dependencies: {tree}");
    for line in tree.lines() {
        let name = line.split_whitespace().next().unwrap_or_default();
        assert!(!FOREIGN.contains(&name), "the measures depend on {name}:\n{tree}");
    }
}
