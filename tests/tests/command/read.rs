//! `ledgerline read` from end to end: what is measured, what is printed, how it ends.

use std::sync::LazyLock;

use clap::Parser;
use ledgerline::choices::Choices;
use ledgerline_cli::{Command, Outcome, Task};
use ledgerline_measure::detector::Needle;
use ledgerline_measure::{Halves, Meter, RmsWindow, Settings, View, words};
use ledgerline_tests::command::{ledgerline, records};
use ledgerline_tests::folder::Folder;
use ledgerline_tests::journal::{as_logged, assert_same};
use ledgerline_tests::signals::{Stereo, bench_mix, noise, tone::Sine};
use ledgerline_tests::wav;
use serde_json::Value;

/// Twelve seconds of the benchmark's track: both bands differ in everything.
fn mix() -> Stereo {
    static MIX: LazyLock<Stereo> = LazyLock::new(|| bench_mix::play().cut(0..12 * 96_000));
    MIX.clone()
}

fn write(path: &str, track: &Stereo) {
    wav::write(path, track.rate_hz as u32, &track.channels());
}

/// The options that words give, without running them.
fn parse(words: &[&str]) -> Result<Task, clap::Error> {
    let words = std::iter::once("ledgerline").chain(words.iter().copied());
    Command::try_parse_from(words).map(|command| command.task)
}

#[test]
fn a_file_reads_what_the_meter_reads() {
    let folder = Folder::new("read");
    let (path, mix) = (folder.path("mix.wav"), mix());
    write(&path, &mix);
    let mut meter = Meter::new(mix.rate_hz, 2, 0, Settings::default()).expect("a meter");
    meter.keep_decorrelation();
    meter.process(&mix.channels(), &[]);
    meter.finish();
    let view = View { rms_window: RmsWindow::SinceReset, ..View::default() };
    let reading = as_logged(&meter.reading(&view).over_the_whole());

    let (outcome, records) = records(&["read", &path]);
    assert_eq!((outcome, records.len()), (Outcome::Fine, 1));
    assert_eq!(records[0]["schema"], "ledgerline.read/1");
    assert_same(&records[0]["reading"], &reading);
    let file = &records[0]["file"];
    assert_eq!(file["path"], path.as_str());
    assert_eq!((&file["format"], &file["sample_rate_hz"]), (&"WAV".into(), &96_000.into()));
    assert_eq!((&file["channels"], &file["duration_s"]), (&2.into(), &12.0.into()));
    // In a file, the latest 400 ms are of no interest.
    let bus = &reading["whole"]["bus"];
    assert_eq!(bus["momentary_lufs"], reading["windows"]["whole"]["bus"]["momentary_max_lufs"]);
}

/// The needle by itself, which other tests hold to IEC 60268-17.
#[test]
fn your_own_meter_reads_a_file_on_its_own_scale() {
    let folder = Folder::new("your-meter");
    let (path, mix) = (folder.path("mix.wav"), mix());
    write(&path, &mix);
    let channels = mix.channels();
    let highest_db = channels.iter().map(|channel| {
        let mut needle = Needle::new(mix.rate_hz);
        needle.take(channel);
        needle.highest().finite().expect("it moves")
    });
    let expected_db = highest_db.fold(f64::MIN, f64::max) + 18.0;
    let line = ["read", "--your-meter", "needle", "--offset", "18", "--target", "-23", &path];
    let (_, records) = records(&line);
    let reading = &records[0]["reading"];
    let yours = &reading["your_meter"];
    assert_eq!((&yours["detector"], &yours["band"]), (&"needle".into(), &"whole".into()));
    let number = |of: &serde_json::Value| of.as_f64().expect("a level");
    let off_db = number(&yours["highest_db"]) - expected_db;
    assert!(off_db.abs() < 0.03, "off by {off_db} dB");
    let moved_db = number(&yours["highest_at_target_db"]) - number(&yours["highest_db"]);
    assert!((moved_db - number(&reading["room"]["lift_db"])).abs() < 1e-9);
    let (outcome, text) = ledgerline(&line);
    let reaches = words::signed(number(&yours["highest_db"]), 1);
    let shown = format!("Your meter (needle, whole band) reaches {reaches}");
    assert!(text.replace('\n', " ").contains(&shown), "{outcome:?} {text}");
    let wrong = parse(&["read", "--your-meter", "vane", &path]).expect_err("there is no such kind");
    assert!(wrong.to_string().contains("it is one of sample_peak, true_peak, rms"), "{wrong}");
}

#[test]
fn the_defaults_are_the_plugins() {
    let Ok(Task::Read(options)) = parse(&["read", "x"]) else { panic!("words that parse") };
    let plugin = Choices::default();
    assert_eq!(options.measuring.settings(), plugin.settings());
    let view = View { rms_window: RmsWindow::SinceReset, ..plugin.view() };
    assert_eq!(options.measuring.view(), view);
}

#[test]
fn settings_reach_the_measures() {
    let folder = Folder::new("settings");
    let path = folder.path("mix.wav");
    write(&path, &mix());
    let words = ["read", "--target", "-20dBFS", "--ceiling", "-2", "--band", "40-16k"];
    let more = ["--rms-reference", "sine", "--true-peak", "bs1770", "--halves", "main-sidechain"];
    let (_, records) = records(&[&words[..], &more, &[&path]].concat());
    let settings = &records[0]["settings"];
    assert_eq!(settings["edges"], serde_json::json!({ "low_hz": 40.0, "high_hz": 16_000.0 }));
    assert_eq!(settings["true_peak"], "bs1770");
    assert_eq!(settings["halves"], "main_sidechain");
    assert_eq!(settings["rms_reference"], "full_scale_sine");
    let room = &records[0]["reading"]["room"];
    assert_eq!(room["ceiling_db"], -2.0);
    assert_eq!(room["target"], serde_json::json!({ "kind": "rms", "value": -20.0 }));
    assert_eq!(records[0]["reading"]["halves"], "main_sidechain");
    let aimed = |words: &[&str]| {
        let (_, records) = self::records(&[&["read"], words, &[&path]].concat());
        let reading = &records[0]["reading"];
        let room = &reading["room"];
        (room["target"]["value"].clone(), room["ceiling_db"].clone(), room["lift_db"].is_null())
    };
    assert_eq!(aimed(&[]), (Value::Null, (-1.0).into(), true), "no target is the default");
    assert_eq!(aimed(&["--target", "none"]), aimed(&[]));
    assert_eq!(aimed(&["--target", "r128"]), ((-23.0).into(), (-1.0).into(), false));
    assert_eq!(aimed(&["--target", "A85"]), ((-24.0).into(), (-2.0).into(), false));
    let other_ceiling = ["--target", "a85", "--ceiling", "-3"];
    assert_eq!(aimed(&other_ceiling), ((-24.0).into(), (-3.0).into(), false));
    for wrong in [
        ["--target", "loud"],
        ["--ceiling", "3"],
        ["--band", "20"],
        ["--band", "300-20000"],
        ["--band", "20000-20"],
        ["--target", "5"],
    ] {
        assert!(parse(&[&["read"], &wrong[..], &["x"]].concat()).is_err(), "{wrong:?}");
    }
}

#[test]
fn channels_are_picked_by_number() {
    let folder = Folder::new("channels");
    let path = folder.path("four.wav");
    let tones = [0.5, 0.25, 0.125, 0.0625].map(|peak| Sine::new(997.0, peak).play(48_000.0, 2.0));
    wav::write(&path, 48_000, &tones.each_ref().map(Vec::as_slice));
    let peak = |words: &[&str], half: &str| {
        let (_, records) = records(&[&["read"], words, &[&path]].concat());
        let peak_dbfs = records[0]["reading"]["whole"][half]["sample_peak_dbfs"].as_f64();
        peak_dbfs.map(|db| db.round())
    };
    assert_eq!(peak(&["--channels", "2,4"], "a"), Some(-12.0));
    assert_eq!(peak(&["--channels", "2,4"], "b"), Some(-24.0));
    assert_eq!(peak(&["--channels", "3", "--halves", "mono"], "a"), Some(-18.0));
    assert_eq!(peak(&["--channels", "3"], "b"), None);
    assert_eq!(peak(&["--halves", "main-sidechain"], "a"), Some(-6.0));
    assert_eq!(peak(&["--halves", "main-sidechain"], "b"), Some(-18.0));
    for words in [
        &["--channels", "5"][..],
        &["--halves", "mono"],
        &["--halves", "main-sidechain", "--channels", "1,2,3"],
    ] {
        let (outcome, _) = ledgerline(&[&["read"], words, &[&path]].concat());
        assert_eq!(outcome, Outcome::NotDone, "{words:?}");
    }
    assert!(parse(&["read", "--channels", "0", "x"]).is_err());
}

#[test]
fn several_files_make_a_table_worst_first_and_a_bad_one_keeps_none_from_being_read() {
    let folder = Folder::new("several");
    let [hot, clean, quiet] = ["hot.wav", "clean.wav", "quiet.wav"].map(|name| folder.path(name));
    let tone = |peak| Stereo::both(48_000.0, Sine::new(997.0, peak).play(48_000.0, 4.0));
    write(&hot, &tone(1.2));
    write(
        &quiet,
        &Stereo::new(48_000.0, noise::white(1, 1e-3, 96_000), noise::white(2, 1e-3, 96_000)),
    );
    write(&clean, &tone(0.0631));
    std::fs::write(folder.path("notes.txt"), "no sound").expect("a file");
    let bad = folder.path("notes.txt");

    let (outcome, table) = ledgerline(&["read", &clean, &hot, &quiet]);
    assert_eq!(outcome, Outcome::Faulty, "a file that clips is a fault");
    let place = |name: &str| table.find(name).expect(name);
    assert!(place("hot.wav") < place("quiet.wav").min(place("clean.wav")), "{table}");
    let (outcome, _) = ledgerline(&["read", "--fail-on", "never", &clean, &hot]);
    assert_eq!(outcome, Outcome::Fine);

    let (outcome, records) = records(&["read", &clean, &bad, &hot]);
    assert_eq!(outcome, Outcome::NotDone);
    let paths: Vec<&str> = records.iter().filter_map(|r| r["file"]["path"].as_str()).collect();
    assert_eq!(paths, [clean.as_str(), &hot], "records come in the order of the files");
    assert_eq!(ledgerline(&["read", "-", "-"]).0, Outcome::NotDone);
}

#[test]
fn the_exit_status_follows_the_least_finding_asked_for() {
    let folder = Folder::new("status");
    let path = folder.path("mix.wav");
    write(&path, &mix());
    // The mix's worst finding is a caution.
    for (fail_on, outcome) in [
        ("note", Outcome::Faulty),
        ("caution", Outcome::Faulty),
        ("fault", Outcome::Fine),
        ("never", Outcome::Fine),
    ] {
        assert_eq!(ledgerline(&["read", "--fail-on", fail_on, &path]).0, outcome, "{fail_on}");
    }
    assert_eq!([Outcome::Fine, Outcome::Faulty, Outcome::NotDone].map(Outcome::status), [0, 1, 2]);
}

#[test]
fn the_history_has_ten_rows_a_second_and_ends_in_the_reading() {
    let folder = Folder::new("history");
    let (path, history) = (folder.path("mix.wav"), folder.path("history.csv"));
    write(&path, &mix());
    let (_, records) = records(&["read", "--history", &history, &path]);
    let mut reader = csv::Reader::from_path(&history).expect("a history");
    let headers = reader.headers().expect("a heading").clone();
    let rows: Vec<csv::StringRecord> = reader.records().map(|row| row.expect("a row")).collect();
    assert_eq!(rows.len(), 120);
    let column = |name: &str| {
        let index = headers.iter().position(|header| header == name).expect(name);
        rows.iter().filter_map(|row| row[index].parse::<f64>().ok()).collect::<Vec<f64>>()
    };
    assert_eq!((column("time_s")[0], column("time_s")[119]), (0.1, 12.0));
    // Nothing is known before the windows are full.
    assert_eq!(column("whole_momentary_lufs").len(), 117);
    assert_eq!(column("audible_short_term_lufs").len(), 91);
    for band in ["whole", "audible"] {
        let bus = &records[0]["reading"][band]["bus"];
        let level = |name: &str| bus[name].as_f64().expect("a level");
        let rows = column(&format!("{band}_sample_peak_dbfs"));
        let highest = rows.into_iter().fold(f64::NEG_INFINITY, f64::max);
        assert!((highest - level("sample_peak_dbfs")).abs() < 1e-4, "{band}");
        let rows = column(&format!("{band}_rms_dbfs"));
        let mean = rows.iter().map(|db| 10f64.powf(db / 10.0)).sum::<f64>() / rows.len() as f64;
        assert!((10.0 * mean.log10() - level("rms_dbfs")).abs() < 1e-3, "{band}");
    }
}

#[test]
fn whatever_is_printed_fits_a_hundred_columns() {
    let folder = Folder::new("width");
    let long = folder.path(&format!("{}.wav", "a rather long name ".repeat(9)));
    let [stereo, mono, silent, brief] =
        ["stereo.wav", "mono.wav", "silent.wav", "brief.wav"].map(|name| folder.path(name));
    write(&stereo, &mix());
    write(
        &long,
        &Stereo::new(48_000.0, noise::white(1, 1.5, 96_000), noise::white(2, 1.5, 96_000)),
    );
    wav::write(&mono, 44_100, &[&noise::white(3, 0.1, 90_000)]);
    wav::write(&silent, 48_000, &[&[0.0; 48_000], &[0.0; 48_000]]);
    wav::write(&brief, 48_000, &[&[0.5; 7], &[0.25; 7]]);
    let all = [&stereo, &long, &mono, &silent, &brief].map(String::as_str);
    let mut printed = ledgerline(&[&["read"], &all[..]].concat()).1;
    printed += &ledgerline(&[&["read", "--full"], &all[..]].concat()).1;
    for file in all {
        printed += &ledgerline(&["read", file]).1;
    }
    for line in printed.lines().filter(|line| !line.contains("long name")) {
        assert!(line.chars().count() <= 100, "{} columns: {line}", line.chars().count());
    }
}

#[test]
fn silence_and_a_few_samples_have_defined_readings() {
    let folder = Folder::new("defined");
    let [silent, brief, empty] =
        ["silent.wav", "brief.wav", "empty.wav"].map(|name| folder.path(name));
    wav::write(&silent, 48_000, &[&[0.0; 96_000], &[0.0; 96_000]]);
    wav::write(&brief, 48_000, &[&[0.5; 7], &[0.5; 7]]);
    wav::write(&empty, 48_000, &[&[], &[]]);
    let reading = |path: &str| -> (Outcome, Option<Value>) {
        let (outcome, mut records) = records(&["read", path]);
        (outcome, records.pop().map(|mut record| record["reading"].take()))
    };
    let (outcome, silence) = reading(&silent);
    let silence = silence.expect("a reading");
    assert_eq!(outcome, Outcome::Fine);
    assert_eq!(silence["whole"]["bus"]["sample_peak_dbfs"], "-inf");
    assert_eq!(silence["whole"]["bus"]["integrated_lufs"], "-inf");
    assert_eq!(silence["findings"][0]["code"], "silence");
    let (_, brief) = reading(&brief);
    let brief = brief.expect("a reading");
    assert!(
        (brief["whole"]["bus"]["sample_peak_dbfs"].as_f64().expect("a peak") + 6.0206).abs() < 1e-3
    );
    assert!(brief["whole"]["bus"]["integrated_lufs"].is_null(), "400 ms are needed");
    assert_eq!(brief["halves"], serde_json::to_value(Halves::LeftRight).expect("a word"));
    // No sample at all is no reading.
    assert_eq!(reading(&empty).0, Outcome::NotDone);
}

#[test]
fn a_report_says_who_made_it_where_that_is_asked_for() {
    let folder = Folder::new("read-by");
    let (sound, page) = (folder.path("tone.wav"), folder.path("page.html"));
    write(&sound, &Stereo::both(48_000.0, Sine::new(997.0, 0.1).play(48_000.0, 1.0)));
    let head = |by: &[&str]| {
        let words = [&["read", "--report", page.as_str(), &sound], by].concat();
        assert_eq!(ledgerline(&words).0, Outcome::Fine);
        let page = std::fs::read_to_string(&page).expect("a report");
        let (_, rest) = page.split_once("class=\"made\">").expect("a head");
        rest.split_once("</p>").expect("its end").0.to_owned()
    };
    assert!(
        head(&["--by", "<i>Mira & Co"]).ends_with(" UTC · by <bdi>&lt;i&gt;Mira &amp; Co</bdi>")
    );
    assert!(head(&[]).ends_with(" UTC"));
    assert!(parse(&["read", "--by", "Mira", "x"]).is_err(), "by whom is nothing without a report");
}

#[test]
fn a_folder_stands_for_the_sound_files_in_it_by_name() {
    let folder = Folder::new("read-folder");
    let mix = mix().cut(0..96_000);
    for name in ["b", "a", "B sides"] {
        std::fs::create_dir(folder.join(name)).expect("a folder");
    }
    for name in ["b/2.wav", "b/10.wav", "a/1.wav", "B sides/3.wav", "b/.4.wav"] {
        write(&folder.path(name), &mix);
    }
    for (name, bytes) in [
        ("b/notes.txt", &b"Nothing to hear here."[..]),
        ("b/cover.png", b"\x89PNG\r\n\x1a\n0000"),
        ("a/broken.wav", b"RIFF"),
    ] {
        std::fs::write(folder.join(name), bytes).expect("a file");
    }
    let top = folder.path("");
    let page = folder.path("page.html");
    let (outcome, records) = records(&["read", "--report", &page, &top]);
    // One of them could not be read; the others were.
    assert_eq!(outcome, Outcome::NotDone);
    let read: Vec<&str> =
        records.iter().filter_map(|record| record["file"]["path"].as_str()).collect();
    let expected =
        ["B sides/3.wav", "a/1.wav", "b/10.wav", "b/2.wav"].map(|name| folder.path(name));
    assert_eq!(read, expected);
    assert_eq!(records[0]["file"]["decoder"], "built in");
    let page = std::fs::read_to_string(page).expect("a page");
    assert!(
        page.contains("Not read") && page.contains("broken.wav is a RIFF file"),
        "no reason on the page"
    );
    let nothing = folder.path("nothing");
    std::fs::create_dir(&nothing).expect("a folder");
    assert_eq!(ledgerline(&["read", &nothing]).0, Outcome::NotDone);
}
