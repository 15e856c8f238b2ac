//! Reads what plugin instances logged: one file an instance, one JSON object a line; first the names
//! of the rows' keys, then a row each second and a full reading from time to time.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use ledgerline_measure::{Meter, Reading, View};
use serde_json::Value;

/// The files in a log folder, oldest instance first.
///
/// # Panics
///
/// When the folder cannot be read.
#[must_use]
pub fn files(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder)
        .unwrap_or_else(|error| panic!("{} cannot be read: {error}", folder.display()));
    let mut files: Vec<PathBuf> = entries
        .map(|entry| entry.expect("an entry of the folder").path())
        .filter(|path| path.extension().is_some_and(|extension| extension == "jsonl"))
        .collect();
    // The instance's number ends the name; as text, 10 would come before 9.
    files.sort_by_key(|path| (path.to_string_lossy().len(), path.clone()));
    files
}

/// All lines of a log file, as JSON, without one that is being written.
///
/// # Panics
///
/// When the file cannot be read, or a line of it is no JSON.
#[must_use]
pub fn lines(file: &Path) -> Vec<Value> {
    let text = std::fs::read_to_string(file)
        .unwrap_or_else(|error| panic!("{} cannot be read: {error}", file.display()));
    let written = text.rfind('\n').map_or(0, |end| end + 1);
    text[..written]
        .lines()
        .map(|line| {
            serde_json::from_str(line).unwrap_or_else(|error| panic!("{error} in line {line}"))
        })
        .collect()
}

/// Those of the lines that have this schema.
#[must_use]
pub fn of_schema(lines: &[Value], schema: &str) -> Vec<Value> {
    lines.iter().filter(|line| line["schema"] == schema).cloned().collect()
}

/// The last full reading that the only instance logged: that of when processing stopped.
///
/// # Panics
///
/// When there is not exactly one file with at least one full reading.
#[must_use]
pub fn last_reading(folder: &Path) -> Value {
    let file = only_file(folder);
    last_of(&file).unwrap_or_else(|| panic!("no reading in {}", file.display()))
}

/// Waits until the last full reading that the only instance logged covers so many seconds. Lines are
/// written on another thread, which may be behind.
///
/// # Panics
///
/// When there is not exactly one file, or nothing such comes within half a minute.
#[must_use]
pub fn last_reading_at(folder: &Path, time_s: &Value) -> Value {
    let deadline = Instant::now() + Duration::from_secs(30);
    loop {
        match last_of(&only_file(folder)) {
            Some(reading) if reading["time_s"] == *time_s => return reading,
            last => assert!(Instant::now() < deadline, "no reading at {time_s}: {last:?}"),
        }
        std::thread::sleep(Duration::from_millis(20));
    }
}

fn only_file(folder: &Path) -> PathBuf {
    let mut files = files(folder);
    assert_eq!(files.len(), 1, "log files in {}: {files:?}", folder.display());
    files.remove(0)
}

fn last_of(file: &Path) -> Option<Value> {
    of_schema(&lines(file), "ledgerline.reading/1").pop()
}

/// The last full reading in a log file.
///
/// # Panics
///
/// When there is none.
#[must_use]
pub fn last_reading_of(file: &Path) -> Value {
    last_of(file).unwrap_or_else(|| panic!("no reading in {}", file.display()))
}

/// A reading as the log would hold it: through its text, so that both sides lose the same.
///
/// # Panics
///
/// Never: a reading is plain data.
#[must_use]
pub fn as_logged(reading: &Reading) -> Value {
    let text = serde_json::to_string(reading).expect("a reading is plain data");
    serde_json::from_str(&text).expect("JSON of our own")
}

/// What a meter with the plugin's default view reads, as the log would hold it.
#[must_use]
pub fn logged_by(meter: &Meter) -> Value {
    as_logged(&meter.reading(&View::default()))
}

/// Panics with the paths that differ unless both readings are the same to the last digit.
///
/// # Panics
///
/// When they are not.
pub fn assert_same(logged: &Value, expected: &Value) {
    let mut differences = Vec::new();
    collect_differences("", logged, expected, &mut differences);
    assert!(
        differences.is_empty(),
        "{} differences between the logged reading and the expected one:\n{}",
        differences.len(),
        differences.join("\n")
    );
}

fn collect_differences(path: &str, logged: &Value, expected: &Value, found: &mut Vec<String>) {
    match (logged, expected) {
        (Value::Object(left), Value::Object(right)) => {
            let keys: std::collections::BTreeSet<_> = left.keys().chain(right.keys()).collect();
            for key in keys {
                let of = |map: &serde_json::Map<_, _>| map.get(key).cloned().unwrap_or_default();
                collect_differences(&format!("{path}/{key}"), &of(left), &of(right), found);
            }
        }
        (Value::Array(left), Value::Array(right)) if left.len() == right.len() => {
            for (index, (left, right)) in left.iter().zip(right).enumerate() {
                collect_differences(&format!("{path}/{index}"), left, right, found);
            }
        }
        _ if logged == expected => {}
        _ => found.push(format!("{path}: logged {logged}, expected {expected}")),
    }
}
