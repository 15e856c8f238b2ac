//! The log on a disk that fails, with a clock of the tests' own.

use ledgerline_measure::detector::{Detector, MeterKind};
use ledgerline_measure::entries::{Clock, Entries};
use ledgerline_measure::{Meter, Settings, View, YourMeter};
use serde_json::Value;

use super::row::COLUMNS;
use super::*;
use crate::handover::Snapshot;

/// A folder of the test's own.
struct Folder(std::path::PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let path =
            std::env::temp_dir().join(format!("ledgerline-log-{name}-{}", std::process::id()));
        Self(path)
    }

    fn log(&self) -> Log {
        Log::new(Some(self.0.join("log")))
    }

    /// The text of every file, oldest instance first.
    fn texts(&self) -> Vec<String> {
        let files = std::fs::read_dir(self.0.join("log")).expect("the log's folder");
        let mut paths: Vec<_> = files.map(|file| file.expect("a file").path()).collect();
        paths.sort_by_key(|path| (path.as_os_str().len(), path.clone()));
        paths.iter().map(|path| std::fs::read_to_string(path).expect("a file")).collect()
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // Gone or a file: what is left over in a temporary folder harms nobody.
        let _ = std::fs::remove_dir_all(&self.0);
        let _ = std::fs::remove_file(&self.0);
    }
}

fn nothing() -> Reading {
    Snapshot::default().reading
}

/// Five seconds of two tones, so that many readings exist and none is a round number.
fn tones() -> Reading {
    let tone = |hz: f64, amplitude: f64| -> Vec<f32> {
        let turn = std::f64::consts::TAU * hz / 48_000.0;
        (0..240_000).map(|n| (amplitude * (turn * f64::from(n)).sin()) as f32).collect()
    };
    let mut meter = Meter::new(48_000.0, 2, 0, Settings::default()).expect("a meter");
    let kind = MeterKind { detector: Detector::Needle, audible: false };
    meter.set_your_meter(Some(kind));
    meter.process(&[&tone(997.0, 0.3), &tone(1501.0, 1.2)], &[]);
    meter.finish();
    let your_meter = Some(YourMeter { kind, offset_db: 18.0 });
    meter.reading(&View { your_meter, ..View::default() })
}

/// A second of noise that is no signal anybody knows.
fn entry() -> Entry {
    let noise: Vec<f32> = (0_u32..48_000)
        .map(|n| (n.wrapping_mul(2_654_435_761) >> 8) as f32 / 16_777_216.0 - 0.5)
        .collect();
    let mut entries =
        Entries::new(48_000.0, 2, 0, Settings::default(), View::default()).expect("entries");
    entries.take(&[&noise, &noise], &[], Clock::default());
    entries.finish();
    entries.list().last().expect("an entry").clone()
}

fn schemas(text: &str) -> Vec<String> {
    let schema = |line: &str| -> Value { serde_json::from_str(line).expect("JSON") };
    text.lines().map(|line| schema(line)["schema"].as_str().expect("a schema").into()).collect()
}

#[test]
fn a_rows_keys_stand_for_the_places_that_the_first_line_names() {
    let folder = Folder::new("keys");
    for reading in [nothing(), tones()] {
        let mut log = folder.log();
        let now = Instant::now();
        log.second(&reading, Some(1.234_567), None, now);
        log.reading(&reading, None, now);
        let text = folder.texts().pop().expect("a file");
        let lines: Vec<Value> =
            text.lines().map(|line| serde_json::from_str(line).expect("JSON")).collect();
        let [first, row, full] = &lines[..] else { panic!("{text}") };
        assert_eq!(first["schema"], "ledgerline.log/1");
        assert_eq!((&row["schema"], &row["host_s"]), (&"ledgerline.row/1".into(), &1.2346.into()));
        let named = first["row"].as_object().expect("names");
        assert_eq!(named.len(), COLUMNS.len(), "a key twice");
        // Beside the named ones: schema and the three times.
        assert_eq!(row.as_object().expect("a row").len(), named.len() + 4);
        let [begun, utc] = [&first["begun_utc"], &row["utc"]].map(|utc| utc.as_str().unwrap());
        assert!(begun <= utc && utc.len() == "2023-11-14T22:13:20.000Z".len(), "{begun}, {utc}");
        for (key, place) in named {
            let place = place.as_str().expect("a place");
            // Where nobody has said which meter is the user's own, there is none.
            let none = place.strip_prefix("/your_meter/").map(|_| &full["your_meter"]);
            let exact = full.pointer(place).or(none).unwrap_or_else(|| panic!("no {place}"));
            match (exact.as_f64(), row[key].as_f64()) {
                (Some(exact), Some(rounded)) => {
                    assert!((exact - rounded).abs() <= 0.005 + 1e-9, "{key}: {exact}, {rounded}");
                }
                _ => assert_eq!(exact, &row[key], "{key}, {place}"),
            }
        }
    }
}

#[test]
fn a_day_of_rows_and_readings_stays_below_the_limit() {
    let folder = Folder::new("day");
    let mut log = folder.log();
    log.second(&tones(), Some(86_399.123_4), None, Instant::now());
    log.reading(&tones(), None, Instant::now());
    let text = folder.texts().remove(0);
    let bytes: Vec<u64> = text.lines().map(|line| line.len() as u64 + 1).collect();
    let day = 86_400 * bytes[1] + 144 * bytes[2];
    // Two digits before the point in each of a row's numbers would be five bytes more at most.
    let longest = day + 86_400 * 5;
    assert!(longest < MOST_BYTES_A_DAY, "{day} bytes a day: rows of {}", bytes[1]);
}

#[test]
fn a_full_reading_follows_every_six_hundredth_row() {
    let folder = Folder::new("ten-minutes");
    let mut log = folder.log();
    for _ in 0..1250 {
        log.second(&nothing(), None, None, Instant::now());
    }
    let schemas = schemas(&folder.texts()[0]);
    let readings: Vec<usize> =
        (0..schemas.len()).filter(|&line| schemas[line] == "ledgerline.reading/1").collect();
    assert_eq!(readings, [601, 1202], "with the first line before and a reading between");
}

#[test]
fn at_the_days_limit_rows_are_left_out_and_said_until_the_day_is_over() {
    let folder = Folder::new("limit");
    let mut log = folder.log();
    let start = Instant::now();
    log.second(&nothing(), None, None, start);
    assert!(log.trouble().is_none());
    log.budget.spend(MOST_BYTES_A_DAY as usize - 5_000_000);
    log.second(&nothing(), None, None, start + Duration::from_secs(1));
    let said = log.trouble().expect("a limit").to_string();
    assert!(said.contains("40 MB") && said.contains(".jsonl"), "{said}");
    // What little entries and a reading take is kept free for them.
    log.entry(&entry(), start + Duration::from_secs(2));
    log.reading(&nothing(), None, start + Duration::from_secs(2));
    log.second(&nothing(), None, None, start + Duration::from_secs(86_400));
    let said = log.trouble().expect("a gap").to_string();
    assert!(said.contains("1 line is missing"), "{said}");
    let row = "ledgerline.row/1";
    let expected = ["ledgerline.log/1", row, "ledgerline.entry/1", "ledgerline.reading/1", row];
    assert_eq!(schemas(&folder.texts()[0]), expected);
}

#[test]
fn a_thousand_entries_a_minute_leave_the_day_its_limit_and_the_last_reading() {
    let folder = Folder::new("entries");
    let mut log = folder.log();
    let (entry, start) = (entry(), Instant::now());
    for n in 0..10_000 {
        log.entry(&entry, start + n * Duration::from_millis(60));
    }
    log.reading(&nothing(), None, start + Duration::from_secs(600));
    let said = log.trouble().expect("a limit").to_string();
    assert!(said.contains("lines are missing"), "{said}");
    let text = folder.texts().remove(0);
    assert!(text.len() as u64 <= MOST_BYTES_A_DAY, "{} bytes", text.len());
    let entries = text.lines().count() - 2;
    assert!(entries > 2_000, "{entries} entries fit");
    assert!(text.lines().last().is_some_and(|line| line.contains("ledgerline.reading/1")));
}

#[test]
fn a_folder_that_cannot_be_made_is_said_and_tried_again_by_itself() {
    let folder = Folder::new("no-folder");
    std::fs::write(&folder.0, "a file, where a folder is wanted").expect("a file");
    let mut log = folder.log();
    let start = Instant::now();
    log.open(start);
    let said = log.trouble().expect("no folder").to_string();
    assert!(said.contains(&*folder.0.to_string_lossy()), "{said}");
    log.second(&nothing(), None, None, start + Duration::from_secs(1));

    std::fs::remove_file(&folder.0).expect("the file");
    log.second(&nothing(), None, None, start + Duration::from_secs(2));
    assert!(matches!(log.trouble(), Some(Trouble::Open(..))), "not tried again yet");
    log.second(&nothing(), None, None, start + BEFORE_TRYING_AGAIN);
    let said = log.trouble().expect("a gap").to_string();
    assert!(said.contains("2 lines are missing"), "{said}");
    assert_eq!(schemas(&folder.texts()[0]), ["ledgerline.log/1", "ledgerline.row/1"]);
}

#[test]
fn a_file_that_is_taken_away_is_made_anew() {
    let folder = Folder::new("taken-away");
    let mut log = folder.log();
    let start = Instant::now();
    log.second(&nothing(), None, None, start);
    std::fs::remove_dir_all(&folder.0).expect("the folder");
    log.second(&nothing(), None, None, start + BEFORE_CHECKING_AGAIN);
    assert_eq!(schemas(&folder.texts()[0]), ["ledgerline.log/1", "ledgerline.row/1"]);
}
