//! `ledgerline read` on logs: what instances wrote while they ran, summed up.

use std::fmt::Write;

use ledgerline_cli::Outcome;
use ledgerline_tests::command::{ledgerline, records};
use ledgerline_tests::folder::Folder;
use ledgerline_tests::signals::{Stereo, noise, tone::Sine};
use ledgerline_tests::vocabulary::check;
use ledgerline_tests::wav;
use serde_json::{Value, json};

/// A log made by hand, with keys of its own: what they stand for, its first line says.
struct Log(String);

/// The clock of the tests: so many seconds after 22:00.
fn utc(seconds: f64) -> String {
    let millis = (seconds * 1000.0).round() as u64;
    let (minute, second) = (millis / 60_000, millis / 1000 % 60);
    format!("2023-11-14T22:{minute:02}:{second:02}.{:03}Z", millis % 1000)
}

impl Log {
    fn new() -> Self {
        let first = json!({
            "schema": "ledgerline.log/1", "version": "0.0.0", "begun_utc": utc(0.0),
            "row": {
                "peak": "/whole/bus/sample_peak_dbfs", "wt": "/whole/bus/true_peak_dbtp",
                "ap": "/audible/bus/sample_peak_dbfs", "at": "/audible/bus/true_peak_dbtp",
                "wm": "/whole/bus/momentary_lufs", "ws": "/whole/bus/short_term_lufs",
                "as": "/audible/bus/short_term_lufs", "wi": "/whole/bus/integrated_lufs",
                "wh": "/windows/whole/bus/sample_peak_dbfs", "o": "/whole/bus/overs",
                "x": "/hidden/above_dbfs", "y": "/hidden/below_dbfs", "r": "/room/room_db",
                "t": "/room/true_room_db",
            },
        });
        let mut log = Self(String::new());
        log.line(&first);
        log
    }

    fn line(&mut self, line: &Value) {
        writeln!(self.0, "{line}").expect("a text takes it");
    }

    /// A row `time_s` after a reset, its keys laid over usual ones.
    fn row(&mut self, time_s: f64, utc: Option<String>, more: Value) {
        let mut row = json!({
            "schema": "ledgerline.row/1", "time_s": time_s, "host_s": null,
            "peak": -6.0, "wt": -5.5, "ap": -7.0, "at": -6.5, "wm": -20.0, "ws": -21.0,
            "as": -22.0, "wi": -23.0, "wh": -6.0, "o": 0, "x": -60.0, "y": "-inf", "r": 5.0,
            "t": 5.5,
        });
        let keys = row.as_object_mut().expect("an object");
        keys.extend(utc.map(|utc| ("utc".to_owned(), utc.into())));
        keys.extend(more.as_object().cloned().unwrap_or_default());
        self.line(&row);
    }

    fn entry(&mut self, number: u32, from_s: f64, to_s: f64, sentence: &str) {
        self.line(&json!({
            "schema": "ledgerline.entry/1", "entry": number, "opened_by": "step", "steady": true,
            "incomplete": false, "start_s": from_s, "end_s": to_s, "host_start_s": 30.0,
            "host_end_s": null, "utc_start": utc(from_s), "utc_end": utc(to_s),
            "levels": {
                "whole": { "bus": { "rms": -17.0, "true_peak": -5.5 } },
                "audible": { "bus": { "rms": -18.0, "true_peak": -6.5 } },
            },
            "change": {
                "what": "copy", "or": ["decorrelated"],
                "copy": { "delay_ms": 50.0, "level_db": 0.0 },
                "shown_by": ["rms/whole"], "not_shown_by": ["sample_peak/whole"],
                "sentence": sentence,
            },
        }));
    }

    fn write(&self, folder: &Folder, name: &str) -> String {
        folder.file(name, self.0.as_bytes()).display().to_string()
    }
}

/// The record of one log.
fn record(path: &str) -> Value {
    let (outcome, mut records) = records(&["read", path]);
    assert_eq!((outcome, records.len()), (Outcome::Fine, 1));
    records.pop().expect("a record")
}

#[test]
fn a_reset_keeps_what_was_highest_and_the_overs_of_both_sides() {
    let folder = Folder::new("session-reset");
    let mut log = Log::new();
    for second in 1..=4 {
        let overs = if second >= 3 { 2 } else { 0 };
        let more = json!({ "host_s": 30 + second, "o": overs, "r": -0.5, "x": -40.0, "wt": 0.5 });
        log.row(f64::from(second), Some(utc(f64::from(second))), more);
    }
    // The reset falls between two rows; twelve seconds later nothing had been measured for ten.
    for second in 1..=12 {
        let pause = if second > 6 { 10.0 } else { 0.0 };
        let at = utc(4.2 + f64::from(second) + pause);
        let overs = if second >= 5 { 1 } else { 0 };
        log.row(f64::from(second), Some(at), json!({ "o": overs, "x": "-inf", "wi": -25.0 }));
    }
    let record = record(&log.write(&folder, "mix.txt"));
    assert_eq!(record["schema"], "ledgerline.session/1");
    assert_eq!((&record["utc_start"], &record["utc_end"]), (&utc(0.0).into(), &utc(26.2).into()));
    assert_eq!((&record["host_start_s"], &record["host_end_s"]), (&31.0.into(), &34.0.into()));
    assert_eq!((&record["measured_s"], &record["pauses"]), (&16.0.into(), &1.into()));
    assert_eq!(record["whole"]["true_peak_dbtp"], 0.5);
    assert_eq!(
        (&record["room"]["room_db"], &record["room"]["room_utc"]),
        (&json!(-0.5), &utc(1.0).into())
    );
    let overs = json!([
        { "utc": utc(3.0), "host_s": 33.0, "overs": 2 },
        { "utc": utc(9.2), "host_s": null, "overs": 1 },
    ]);
    assert_eq!((&record["overs"], &record["over_times"]), (&3.into(), &overs));
    let stretches = record["stretches"].as_array().expect("stretches");
    let integrated: Vec<&Value> =
        stretches.iter().map(|s| &s["whole"]["integrated_lufs"]).collect();
    assert_eq!(integrated, [-23.0, -25.0]);
    // −40 dBFS for 4 of 16 seconds and nothing for the rest: a quarter of the power.
    let above_dbfs = record["hidden"]["above_dbfs"].as_f64().expect("a level");
    assert!((above_dbfs + 46.0206).abs() < 1e-3, "{above_dbfs}");
    assert_eq!(record["hidden"]["below_dbfs"], "-inf");
    // All readings that passed the gates are the same.
    assert_eq!(record["whole"]["lra_lu"], 0.0);
}

#[test]
fn a_reset_that_was_undone_is_none() {
    let folder = Folder::new("session-undo");
    let undo = |time_s: f64, at: f64| json!({ "schema": "ledgerline.undo/1", "time_s": time_s, "utc": utc(at) });
    let mut log = Log::new();
    for second in 1..=4 {
        let at = f64::from(second);
        log.row(at, Some(utc(at)), json!({ "o": 2, "wi": -23.0 }));
    }
    for second in 1..=3 {
        let at = f64::from(second);
        log.row(
            at,
            Some(utc(4.6 + at)),
            json!({ "o": if second >= 2 { 1 } else { 0 }, "wi": -30.0 }),
        );
    }
    // Half a second before the reset and half a second behind the last row have none.
    log.line(&undo(8.0, 8.1));
    for second in 1..=5 {
        let at = f64::from(second);
        log.row(7.5 + at, Some(utc(7.6 + at)), json!({ "o": 3, "wi": -25.0 }));
    }
    let record = record(&log.write(&folder, "undo.jsonl"));
    assert_eq!(record["warnings"], json!([]));
    assert_eq!((&record["measured_s"], &record["pauses"]), (&12.5.into(), &0.into()));
    assert_eq!((&record["overs"], &record["over_times"][1]["utc"]), (&3.into(), &utc(6.6).into()));
    let stretches = record["stretches"].as_array().expect("stretches");
    assert_eq!(stretches.len(), 1);
    assert_eq!(stretches[0]["whole"]["integrated_lufs"], -25.0);
    // A log that was begun between knows nothing of what was before.
    let mut log = Log::new();
    log.row(1.0, Some(utc(1.0)), json!({ "o": 0 }));
    log.row(2.0, Some(utc(2.0)), json!({ "o": 1 }));
    log.line(&undo(90.2, 2.2));
    log.row(91.0, Some(utc(3.0)), json!({ "o": 8 }));
    let record = self::record(&log.write(&folder, "between.jsonl"));
    assert_eq!((&record["warnings"], &record["pauses"]), (&json!([]), &0.into()));
    assert_eq!((&record["overs_before"], &record["overs"]), (&7.into(), &1.into()));
    assert!(record["measured_s"].as_f64().is_some_and(|s| (2.5..=3.0).contains(&s)), "{record}");
}

#[test]
fn rows_without_a_clock_are_counted_from_the_beginning() {
    let folder = Folder::new("session-no-clock");
    let mut log = Log::new();
    for (time_s, overs) in [(1.0, 0), (2.0, 4), (3.0, 4), (1.0, 0), (2.0, 4)] {
        log.row(time_s, None, json!({ "o": overs }));
    }
    let record = record(&log.write(&folder, "old.jsonl"));
    assert_eq!((&record["utc_start"], &record["utc_end"]), (&utc(0.0).into(), &utc(5.0).into()));
    assert_eq!(record["over_times"][1]["utc"], utc(5.0));
}

#[test]
fn overs_from_before_the_log_have_no_moment() {
    let folder = Folder::new("session-before");
    let mut log = Log::new();
    log.row(700.0, Some(utc(60.0)), json!({ "o": 5 }));
    log.row(701.0, Some(utc(61.0)), json!({ "o": 6 }));
    let record = record(&log.write(&folder, "late.jsonl"));
    assert_eq!((&record["overs_before"], &record["overs"]), (&5.into(), &1.into()));
    assert_eq!((&record["measured_s"], &record["utc_start"]), (&2.0.into(), &utc(59.0).into()));
}

#[test]
fn what_cannot_be_read_of_a_log_is_passed_over_and_said() {
    let folder = Folder::new("session-damaged");
    let mut log = Log::new();
    log.row(1.0, Some(utc(1.0)), json!({}));
    log.0 += "{\"schema\":\"ledgerline.row/1\",\"time_s\":\n\u{0}\u{0}\n[1,2]\n";
    log.line(&json!({ "schema": "ledgerline.row/1", "time_s": "soon" }));
    log.line(&json!({ "schema": "ledgerline.row/1", "time_s": 1e300 }));
    log.line(&json!({ "schema": "ledgerline.entry/1", "entry": 1 }));
    log.line(&json!({ "schema": "ledgerline.weather/7" }));
    writeln!(log.0, "{}", "[".repeat(100_000)).expect("a text takes it");
    writeln!(log.0, "{}", "9".repeat(2_000_000)).expect("a text takes it");
    log.row(2.0, Some(utc(2.0)), json!({ "wt": 1e308, "o": -1, "x": "loud" }));
    log.0 += "{\"schema\":\"ledgerline.row/1\",\"time_s\":3.0,\"utc\":\"2023-11";
    let record = record(&log.write(&folder, "damaged.jsonl"));
    assert_eq!(record["measured_s"], 2.0);
    let warnings: Vec<&str> =
        record["warnings"].as_array().expect("a list").iter().filter_map(Value::as_str).collect();
    let expected = [
        "8 lines were passed over: damaged.",
        "1 line was passed over: of a kind that is not known here.",
        "The last line is not whole and was passed over: the log is still being written, or broke off.",
    ];
    assert_eq!(warnings, expected);
}

#[test]
fn no_cut_of_a_log_is_more_than_the_log() {
    let folder = Folder::new("session-cut");
    let mut log = Log::new();
    log.row(1.0, Some(utc(1.0)), json!({}));
    log.entry(1, 0.5, 1.0, "The sum fell by 3.0 dB.");
    log.row(2.0, Some(utc(2.0)), json!({}));
    let first = log.0.find('\n').expect("a first line") + 1;
    for length in (0..log.0.len()).step_by(29) {
        let path = folder.file("cut.jsonl", &log.0.as_bytes()[..length]).display().to_string();
        let (outcome, records) = records(&["read", &path]);
        let measured_s = records.first().and_then(|record| record["measured_s"].as_f64());
        if length <= first {
            assert_eq!((outcome, measured_s), (Outcome::NotDone, None), "{length} bytes");
        } else {
            assert!(measured_s.is_none_or(|s| s <= 2.0), "{length} bytes: {measured_s:?}");
        }
    }
}

#[test]
fn damage_anywhere_in_a_log_stops_neither_the_text_nor_the_page() {
    const COPIES: u64 = 300;
    let folder = Folder::new("session-bytes");
    let [one, _] = two(&folder);
    let whole = std::fs::read(one).expect("the log");
    let first = whole.iter().position(|byte| *byte == b'\n').expect("a first line");
    let (path, page) = (folder.path("damaged.jsonl"), folder.path("page.html"));
    let mut read = 0;
    for copy in 0..COPIES {
        let mut bytes = whole.clone();
        for spot in 0..40 {
            let hash = noise::hash(copy, spot);
            let at = first + 1 + (hash >> 16) as usize % (whole.len() - first - 1);
            // Digits make other numbers; the rest breaks lines.
            bytes[at] =
                if bytes[at].is_ascii_digit() { b'0' + hash as u8 % 10 } else { hash as u8 };
        }
        std::fs::write(&path, &bytes).expect("a file");
        let (outcome, _) = ledgerline(&["read", "--fail-on", "never", "--report", &page, &path]);
        read += u64::from(outcome == Outcome::Fine);
    }
    assert!(read > COPIES / 2, "{read} of {COPIES} could be read");
}

/// Two instances of one session: one holds a 31 kHz tone, the other starts later.
fn two(folder: &Folder) -> [String; 2] {
    let [mut one, mut other] = [Log::new(), Log::new()];
    for second in 1..=20 {
        let at = f64::from(second);
        one.row(at, Some(utc(at)), json!({ "x": -34.0, "host_s": at }));
        other.row(at, Some(utc(at + 5.0)), json!({ "x": -70.0 }));
    }
    one.line(&json!({
        "schema": "ledgerline.reading/1", "time_s": 20.0, "sample_rate_hz": 96_000.0,
        "hidden": { "above_dbfs": -34.0, "tones": [{ "hz": 31_000.0, "dbfs": -34.2 }] },
        "room": { "ceiling_db": -1.0, "target": { "kind": "loudness", "value": -23.0 } },
        "windows": { "peak_window_s": 3.0, "whole": { "bus": { "momentary_max_lufs": -17.5 } } },
        "findings": [
            { "code": "hidden_tone", "severity": "caution", "sentence": "A tone at 31 kHz." },
            { "code": "clean", "severity": "clear", "sentence": "Nothing." },
        ],
    }));
    one.entry(2, 7.0, 19.0, "The sum fell by 3.0 dB: one source now comes 50.0 ms late.");
    [one.write(folder, "strings.jsonl"), other.write(folder, "drums.jsonl")]
}

#[test]
fn several_logs_tell_which_brings_which_hidden_content() {
    let folder = Folder::new("session-two");
    let [one, other] = two(&folder);
    let (outcome, text) = ledgerline(&["read", &other, &one]);
    assert_eq!(outcome, Outcome::Fine);
    for said in [
        "strings.jsonl holds the most above the audible band: −34.0 dBFS; next comes drums.jsonl with",
        "Steady tones in strings.jsonl: 31 kHz at −34.2 dBFS.",
        "2023-11-14 22:00:00 to 22:00:20 UTC · host 0:01.0 to 0:20.0 · 20.0 s measured · 96 kHz",
        "A tone at 31 kHz. (22:00:20 UTC)",
        "2 22:00:07 to 22:00:19 UTC, host 0:30.0, level step: The sum fell by 3.0 dB: one source now",
    ] {
        let unwrapped = text.replace('\n', " ");
        assert!(unwrapped.contains(said), "{said} is not in\n{text}");
    }
    assert!(
        text.lines().filter(|line| !line.contains('/')).all(|l| l.chars().count() <= 100),
        "{text}"
    );
    check("a session", text.replace(&folder.path(""), "").lines());
    let (_, records) = records(&["read", &other, &one]);
    let paths: Vec<&Value> = records.iter().map(|record| &record["file"]["path"]).collect();
    assert_eq!(paths, [other.as_str(), &one], "records come in the order of the logs");
    // Louder than any of the rows, which come once a second.
    assert_eq!(records[1]["whole"]["momentary_max_lufs"], -17.5);
    assert_eq!(records[1]["entries"][0]["change"]["copy"]["delay_ms"], 50.0);
    let fails = |least: &str| ledgerline(&["read", "--fail-on", least, &one]).0;
    assert_eq!([fails("fault"), fails("caution")], [Outcome::Fine, Outcome::Faulty]);
}

#[test]
fn sound_and_logs_are_read_side_by_side_and_what_is_for_sound_alone_is_refused() {
    let folder = Folder::new("session-mixed");
    let [log, _] = two(&folder);
    let [sound, page, history] =
        ["tone.wav", "page.html", "levels.csv"].map(|name| folder.path(name));
    let tone = Stereo::both(48_000.0, Sine::new(997.0, 0.1).play(48_000.0, 2.0));
    wav::write(&sound, 48_000, &tone.channels());
    let (outcome, records) = records(&["read", &log, &sound]);
    let schemas: Vec<&Value> = records.iter().map(|record| &record["schema"]).collect();
    assert_eq!(
        (outcome, schemas),
        (Outcome::Fine, vec![&json!("ledgerline.session/1"), &json!("ledgerline.read/1")])
    );
    let (_, text) = ledgerline(&["read", &log, &sound]);
    assert!(text.contains("tone.wav") && text.contains("strings.jsonl"), "{text}");
    for words in [
        &["read", "--channels", "1", &log][..],
        &["read", "--track", "1", &log],
        &["read", "--history", &history, &log],
        &["read", "--report", &page, &log, &sound],
    ] {
        assert_eq!(ledgerline(words).0, Outcome::NotDone, "{words:?}");
    }
    assert!(!std::path::Path::new(&page).exists());
    assert_eq!(ledgerline(&["read", "--report", &page, &log]).0, Outcome::Fine);
    let page = std::fs::read_to_string(&page).expect("a page");
    assert!(page.contains("Session of strings.jsonl") && page.contains("one source now comes"));
}

#[test]
fn a_record_that_is_no_log_is_refused() {
    let folder = Folder::new("session-no-log");
    let path = folder.path("record.jsonl");
    for line in ["{\"schema\":\"ledgerline.row/1\",\"time_s\":1.0}\n", "{\"schema\":\"else/1\"}\n"]
    {
        std::fs::write(&path, line).expect("a file");
        assert_eq!(ledgerline(&["read", &path]).0, Outcome::NotDone, "{line}");
    }
}
