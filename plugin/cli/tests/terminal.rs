//! The built program as a shell sees it: streams, colours, statuses, and what it says of itself.

use std::io::Write;
use std::path::PathBuf;
use std::process::{Command, Output, Stdio};

use hound::{SampleFormat, WavSpec, WavWriter};

fn ledgerline(words: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_ledgerline"));
    command.args(words).env_remove("NO_COLOR").env_remove("CLICOLOR_FORCE");
    command
}

fn output(command: &mut Command) -> (Option<i32>, String, String) {
    let Output { status, stdout, stderr } = command.output().expect("the program starts");
    let text = |bytes| String::from_utf8(bytes).expect("text");
    (status.code(), text(stdout), text(stderr))
}

/// A stereo file with something to say about it: it clips.
fn hot(name: &str) -> PathBuf {
    let path = std::env::temp_dir().join(format!("ledgerline-{name}-{}.wav", std::process::id()));
    let spec = WavSpec {
        channels: 2,
        sample_rate: 48_000,
        bits_per_sample: 32,
        sample_format: SampleFormat::Float,
    };
    let mut writer = WavWriter::create(&path, spec).expect("a file");
    for n in 0..96_000 {
        let sample = 1.25 * (n as f32 * 0.13).sin();
        writer.write_sample(sample).expect("room");
        writer.write_sample(-0.5 * sample).expect("room");
    }
    writer.finalize().expect("room");
    path
}

#[test]
fn a_pipe_gets_plain_text_and_nothing_on_standard_error() {
    let path = hot("plain");
    let (status, out, err) = output(&mut ledgerline(&["read", &path.to_string_lossy()]));
    assert_eq!(status, Some(1), "it clips");
    assert!(out.contains("Fault") && !out.contains('\u{1b}'), "{out}");
    assert_eq!(err, "", "no progress in a pipe");
    std::fs::remove_file(path).expect("the test's own file");
}

#[test]
fn colours_come_where_they_are_wanted_and_no_color_wins() {
    let path = hot("colours");
    let words = ["read", &path.to_string_lossy()];
    let (_, out, _) = output(ledgerline(&words).env("CLICOLOR_FORCE", "1"));
    assert!(out.contains('\u{1b}'), "{out}");
    let mut command = ledgerline(&words);
    let (_, out, _) = output(command.env("CLICOLOR_FORCE", "1").env("NO_COLOR", "1"));
    assert!(!out.contains('\u{1b}'), "{out}");
    std::fs::remove_file(path).expect("the test's own file");
}

#[test]
fn standard_input_is_measured_like_the_file() {
    let path = hot("stdin");
    let bytes = std::fs::read(&path).expect("the file");
    let mut child = ledgerline(&["read", "--json", "-"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the program starts");
    child.stdin.take().expect("a pipe").write_all(&bytes).expect("it reads");
    let piped = child.wait_with_output().expect("it ends").stdout;
    let (_, named, _) = output(&mut ledgerline(&["read", "--json", &path.to_string_lossy()]));
    let reading = |text: &[u8]| -> serde_json::Value {
        let mut record: serde_json::Value = serde_json::from_slice(text).expect("JSON");
        record["reading"].take()
    };
    assert_eq!(reading(&piped), reading(named.as_bytes()));
    std::fs::remove_file(path).expect("the test's own file");
}

#[test]
fn an_error_names_the_file_on_standard_error_with_status_2() {
    let (status, out, err) = output(&mut ledgerline(&["read", "no-such-file.wav"]));
    assert_eq!((status, out.as_str()), (Some(2), ""));
    assert!(err.starts_with("error: no-such-file.wav "), "{err}");
    let (status, _, err) = output(&mut ledgerline(&["read", "--target", "loud", "x.wav"]));
    assert_eq!(status, Some(2));
    assert!(err.contains("-23LUFS"), "it says what to type: {err}");
}

#[test]
fn a_reader_that_has_seen_enough_is_no_error() {
    let path = hot("enough");
    let path = path.to_string_lossy();
    // More than a pipe holds.
    let words: Vec<&str> =
        ["read", "--json"].into_iter().chain(std::iter::repeat_n(&*path, 40)).collect();
    let mut child = ledgerline(&words)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    drop(child.stdout.take());
    let output = child.wait_with_output().expect("it ends");
    assert_eq!(String::from_utf8_lossy(&output.stderr), "");
    assert_eq!(output.status.code(), Some(0));
    std::fs::remove_file(&*path).expect("the test's own file");
}

#[test]
fn help_completions_and_the_manual_come_from_the_same_definitions() {
    let (status, help, _) = output(&mut ledgerline(&["read", "--help"]));
    assert_eq!(status, Some(0));
    for said in ["Examples:", "--target", "--fail-on", "Exit status"] {
        assert!(help.contains(said), "{said} is missing from the help");
    }
    for line in help.lines() {
        assert!(line.chars().count() <= 100, "{line}");
    }
    let (_, version, _) = output(&mut ledgerline(&["--version"]));
    assert_eq!(version.trim(), concat!("ledgerline ", env!("CARGO_PKG_VERSION")));
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let (status, script, _) = output(&mut ledgerline(&["completions", shell]));
        assert_eq!(status, Some(0));
        assert!(script.contains("fail-on") && script.contains("audit"), "{shell}");
    }
    let (_, page, _) = output(&mut ledgerline(&["manual"]));
    assert!(page.contains(".TH ledgerline") && page.contains("audit"), "{page}");
    let folder = std::env::temp_dir().join(format!("ledgerline-manual-{}", std::process::id()));
    let (status, _, _) =
        output(&mut ledgerline(&["manual", "--folder", &folder.to_string_lossy()]));
    assert_eq!(status, Some(0));
    let page = std::fs::read_to_string(folder.join("ledgerline-read.1")).expect("a page for read");
    assert!(page.contains("fail\\-on"), "{page}");
    std::fs::remove_dir_all(folder).expect("the test's own folder");
}
