//! `ledgerline compare` from end to end: text, record, page and exit status.

use ledgerline_cli::Outcome;
use ledgerline_tests::command::{ledgerline, records};
use ledgerline_tests::folder::Folder;
use ledgerline_tests::signals::session;
use ledgerline_tests::wav;

/// A mix and its export, softer by a factor, as files.
fn files(folder: &Folder, factor: f32) -> [String; 2] {
    let piece = session::play(6, 48_000, 10.0);
    let scaled = |channel: &Vec<f64>, factor: f32| -> Vec<f32> {
        channel.iter().map(|x| *x as f32 * factor).collect()
    };
    let write = |name: &str, factor: f32| {
        let [left, right] = [0, 1].map(|channel| scaled(&piece.channels[channel], factor));
        let path = folder.path(name);
        wav::write(&path, 48_000, &[&left, &right]);
        path
    };
    [write("mix.wav", 1.0), write("export.wav", factor)]
}

#[test]
fn text_fits_100_columns_and_begins_with_the_sentence() {
    let folder = Folder::new("compare-text");
    let [mix, export] = files(&folder, -0.5);
    let (outcome, text) = ledgerline(&["compare", &mix, &export]);
    assert_eq!(outcome, Outcome::Faulty);
    let widest = text.lines().map(|line| line.chars().count()).max().unwrap_or(0);
    assert!(widest <= 100, "{widest} columns\n{text}");
    assert!(text.contains("6.02 dB lower and inverted"), "{text}");
    for row in ["Integrated loudness", "True peak", "Delay", "Polarity", "Residual"] {
        assert!(text.contains(row), "{row} is missing from\n{text}");
    }
}

#[test]
fn the_exit_status_follows_the_tolerances() {
    let folder = Folder::new("compare-status");
    let [mix, export] = files(&folder, 0.5);
    assert_eq!(ledgerline(&["compare", &mix, &mix]).0, Outcome::Fine);
    assert_eq!(ledgerline(&["compare", &mix, &export]).0, Outcome::Faulty);
    let allowed = ["compare", "--gain", "7", "--loudness", "any", &mix, &export];
    assert_eq!(ledgerline(&allowed).0, Outcome::Fine);
    let missing = folder.path("missing.wav");
    assert_eq!(ledgerline(&["compare", &mix, &missing]).0, Outcome::NotDone);
    assert_eq!(ledgerline(&["compare", &mix, "-"]).0, Outcome::NotDone);
}

#[test]
fn the_purpose_decides_and_single_limits_override_it() {
    let folder = Folder::new("compare-purpose");
    let [mix, export] = files(&folder, 0.5);
    let run = |options: &[&str]| {
        let words = [&["compare"], options, &[&mix, &export]].concat();
        let (outcome, mut found) = records(&words);
        (outcome, found.remove(0))
    };
    let (outcome, record) = run(&[]);
    assert_eq!(outcome, Outcome::Faulty);
    assert_eq!((&record["purpose"], &record["purpose_by"]), (&"same".into(), &"default".into()));
    let findings = record["findings"].as_array().expect("findings");
    let gain = findings.iter().find(|finding| finding["code"] == "gain").expect("a gain");
    assert_eq!(gain["advice"], "Raise the export by 6.02 dB.");
    assert_eq!(gain["concerns"], "audible");

    for purpose in ["master", "normalised"] {
        let (outcome, record) = run(&["--for", purpose]);
        assert_eq!(outcome, Outcome::Fine, "{record}");
        assert_eq!(
            (&record["purpose"], &record["purpose_by"]),
            (&purpose.into(), &"choice".into())
        );
    }
    let (outcome, record) = run(&["--for", "master", "--gain", "3"]);
    assert_eq!(outcome, Outcome::Faulty);
    assert_eq!(record["outside"], serde_json::json!(["Gain −6.02 dB, ±3 dB allowed"]));
}

#[test]
fn text_leads_with_what_is_audible_then_what_to_do_then_the_numbers() {
    let folder = Folder::new("compare-order");
    let [mix, export] = files(&folder, 0.5);
    let (_, text) = ledgerline(&["compare", &mix, &export]);
    let places =
        ["Judged as a lossless copy", "Audible", "What to do", "Raise the export", "Residual"]
            .map(|part| text.find(part).unwrap_or_else(|| panic!("no {part} in\n{text}")));
    assert!(places.is_sorted(), "{text}");
}

#[test]
fn the_record_holds_what_was_promised() {
    let folder = Folder::new("compare-record");
    let [mix, export] = files(&folder, 0.5);
    let page = folder.path("page.html");
    let (outcome, found) =
        records(&["compare", "--report", &page, "--by", "Mira Lund", &mix, &export]);
    assert_eq!(outcome, Outcome::Faulty);
    let record = &found[0];
    assert_eq!(record["schema"], "ledgerline.compare/1");
    for key in [
        "alignment",
        "gain_db",
        "polarity",
        "channels",
        "rate_converted",
        "band_limit_hz",
        "loudness_change_lu",
        "true_peak_change_db",
        "overs_added",
        "residual_dbfs",
        "edits",
        "findings",
        "verdict",
        "sentence",
        "files",
        "version",
    ] {
        assert!(record.get(key).is_some(), "{key} is missing");
    }
    assert_eq!(record["verdict"], "gain_only");
    assert_eq!(record["alignment"]["delay_samples"], 0.0);
    assert_eq!(record["files"]["mix"]["path"], mix.as_str());
    let page = std::fs::read_to_string(page).expect("a page");
    assert!(page.contains("export.wav with mix.wav"));
    assert!(page.contains(" UTC · by <bdi>Mira Lund</bdi>"));
}
