//! The audit from end to end: feeds, a simulated mixer, a recording in, the record, the report
//! and the exit status.

use std::path::Path;

use clap::Parser;
use ledgerline_cli::{Command, Outcome};
use ledgerline_tests::command::ledgerline;
use ledgerline_tests::folder::Folder;
use ledgerline_tests::mixer::Mixer;
use ledgerline_tests::wav;
use serde_json::Value;

/// Feeds by the command at 24 bits, mixed and recorded.
fn recording(folder: &Folder, name: &str, mixer: &Mixer) -> String {
    if !Path::new(&folder.path("feed-1.wav")).exists() {
        let (outcome, _) = ledgerline(&["signal", &folder.path("")]);
        assert_eq!(outcome, Outcome::Fine);
    }
    let feeds = ["feed-1.wav", "feed-2.wav"].map(|name| wav::read(&folder.path(name)));
    let path = folder.path(name);
    wav::write(&path, 48_000, &[&mixer.record([&feeds[0], &feeds[1]], 48_000.0)]);
    path
}

#[test]
fn audit_gives_record_report_and_status() {
    let folder = Folder::new("audit");
    // On the player's clock, so that the recording's samples are the feeds' and peaks are exact.
    let good = Mixer { gain: -0.7, lead_frames: 5_000.0, noise_rms: 1e-5, ..Mixer::default() };
    let good = recording(&folder, "good.wav", &good);
    let report = folder.path("report.html");
    let (outcome, json) = ledgerline(&[
        "audit",
        &good,
        "--json",
        "--report",
        &report,
        "--by",
        "Mira Lund",
        "--shown",
        "1=-20",
        "3=-14",
        "5=-14",
        "6=-14",
        "9=-20",
        "10=-20",
        "15=-20",
    ]);
    assert_eq!(outcome, Outcome::Fine);
    let record: Value = serde_json::from_str(&json).expect("JSON");
    assert_eq!(record["schema"], "ledgerline.audit/1");
    assert_eq!(record["verdict"], "sums_correctly");
    assert_eq!(record["faults"], serde_json::json!([]));
    assert_eq!(record["recording"]["path"], good.as_str());
    let third = &record["steps"][2];
    assert_eq!(third["step"], 3);
    for detector in
        ["sample_peak", "true_peak", "rms", "needle", "programme_1", "programme_2", "momentary"]
    {
        for band in ["whole", "audible"] {
            let measure = &third["bands"][band][detector];
            let change = measure["change_db"].as_f64().expect("a number");
            assert!((change - 6.02).abs() < 0.1, "{band} {detector}: {change}");
            for key in ["level_dbfs", "expected_db", "tolerance_db"] {
                assert!(measure[key].is_number(), "{key}");
            }
            assert_eq!(measure["within"], true);
        }
    }
    assert_eq!(record["steps"][3]["bands"]["whole"]["rms"]["expected_db"], "-inf");
    assert_eq!(record["meter"]["models"][0]["detector"], "sample_peak");
    assert_eq!(record["meter"]["models"][0]["band"], "whole");
    let page = std::fs::read_to_string(&report).expect("a report");
    assert!(page.contains(" UTC · by <bdi>Mira Lund</bdi>"));
    assert!(page.contains("Sums correctly") && page.trim_end().ends_with("</html>"));
    for foreign in ["http:", "https:", "<script", "src=", "url(h"] {
        assert!(!page.contains(foreign), "the report needs {foreign}");
    }

    let bad = Mixer { channel_gains: [1.0, 0.8], ..Mixer::default() };
    let bad = recording(&folder, "bad.wav", &bad);
    let (outcome, text) = ledgerline(&["audit", &bad]);
    assert_eq!(outcome, Outcome::Faulty);
    assert!(text.contains("Raise feed 2's channel by 1.94 dB."), "{text}");

    let (outcome, table) = ledgerline(&["audit", &good, &bad, "--table"]);
    assert_eq!(outcome, Outcome::Faulty);
    assert!(table.lines().next().expect("a heading").contains("good"));
    assert!(table.contains("−1.94 dB!") && table.contains("Sums correctly"), "{table}");

    let missing = folder.path("missing.wav");
    let (outcome, json) = ledgerline(&["audit", &missing, &bad, "--json"]);
    assert_eq!(outcome, Outcome::NotDone);
    let records: Value = serde_json::from_str(&json).expect("JSON");
    assert_eq!(records.as_array().map(Vec::len), Some(1));
}

#[test]
fn several_recordings_are_held_against_the_first() {
    let folder = Folder::new("desks");
    let desk = Mixer { drift_ppm: 60.0, noise_rms: 1e-3, seed: 5, ..Mixer::default() };
    let desk = recording(&folder, "desk.wav", &desk);
    let mixer = Mixer { gain: -0.5, noise_rms: 1e-4, seed: 6, ..Mixer::default() };
    let alike = recording(&folder, "box.wav", &mixer);
    let other = recording(&folder, "other.wav", &Mixer { both_gain: 0.98, ..mixer });
    let (_, text) = ledgerline(&["audit", &desk, &alike, &other]);
    let first = text.lines().next().expect("a sentence");
    assert!(first.starts_with("desk and box add alike within 0.0"), "{text}");
    // 20·log10(0.98).
    assert!(
        text.contains("desk and other add differently: in other, against its parts, the sum of")
    );
    assert!(text.contains("lies 0.18 dB lower (±") && text.contains("−0.18 ± 0.0"), "{text}");
    assert!(text.lines().all(|line| line.chars().count() <= 100), "{text}");

    let (_, json) = ledgerline(&["audit", &desk, &alike, &other, "--json"]);
    let records: Value = serde_json::from_str(&json).expect("JSON");
    assert!(records[0].get("against").is_none());
    for (record, is_alike) in [(&records[1], true), (&records[2], false)] {
        assert_eq!(record["schema"], "ledgerline.audit/1");
        let against = &record["against"];
        assert_eq!(against["schema"], "ledgerline.audit_comparison/1");
        assert_eq!(against["reference"], desk.as_str());
        assert_eq!(against["alike"], is_alike);
        assert_eq!(against["sums"].as_array().map(Vec::len), Some(5));
    }

    let noise = recording(&folder, "noise.wav", &Mixer { noise_rms: 0.05, ..Mixer::default() });
    let (outcome, text) = ledgerline(&["audit", &desk, &noise]);
    assert_eq!(outcome, Outcome::NotDone);
    assert!(text.contains("desk and noise are not compared: noise cannot be judged"), "{text}");
    let (_, text) = ledgerline(&["audit", &folder.path("missing.wav"), &desk]);
    assert!(text.starts_with("Not compared, since it cannot be judged: missing.\n"), "{text}");
}

#[test]
fn audit_that_cannot_be_done_says_so_by_its_status() {
    let folder = Folder::new("undone");
    std::fs::write(folder.path("text.wav"), "no sound").expect("a file");
    wav::write(&folder.path("silence.wav"), 48_000, &[&[0.0; 500_000]]);
    wav::write(&folder.path("empty.wav"), 48_000, &[&[]]);
    for name in ["text.wav", "silence.wav", "empty.wav", "nowhere.wav"] {
        let (outcome, said) = ledgerline(&["audit", &folder.path(name)]);
        assert_eq!(outcome, Outcome::NotDone, "{name}");
        assert!(said.is_empty(), "{said}");
    }
    assert_eq!(ledgerline(&["audit"]).0, Outcome::NotDone);
    assert_eq!(ledgerline(&["audit", "a", "b", "--shown", "1=0"]).0, Outcome::NotDone);
    for words in [["audit", "a", "--shown", "one=2"], ["audit", "a", "--shown", "1=loud"]] {
        let words = std::iter::once("ledgerline").chain(words);
        assert!(Command::try_parse_from(words).is_err());
    }
}
