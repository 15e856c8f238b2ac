//! `ledgerline read` measures a long file in parts, and says what it would have said in one go.

use ledgerline_cli::Outcome;
use ledgerline_measure::{Meter, RmsWindow, Settings, View};
use ledgerline_tests::command::records;
use ledgerline_tests::folder::Folder;
use ledgerline_tests::signals::noise;
use ledgerline_tests::wav;
use serde_json::Value;

const RATE_HZ: u32 = 48_000;
/// Longer than what is measured in one go, and no whole number of anything.
const FRAMES: usize = 33 * RATE_HZ as usize + 311;

/// The sums of the parts are rounded in another order, and peaks are in single precision.
const TOLERANCE: f64 = 2e-6;

fn channels() -> [Vec<f32>; 2] {
    [noise::white(91, 0.5, FRAMES), noise::white_gaussian(92, 0.1, FRAMES)]
}

fn reading_of(channels: &[&[f32]]) -> Value {
    let mut meter =
        Meter::new(f64::from(RATE_HZ), 2, 0, Settings::default()).expect("a stereo meter");
    meter.keep_decorrelation();
    meter.process(channels, &[]);
    meter.finish();
    let view = View { rms_window: RmsWindow::SinceReset, ..View::default() };
    serde_json::to_value(meter.reading(&view).over_the_whole()).expect("a reading can be written")
}

fn assert_close(place: &str, got: &Value, expected: &Value) {
    match (got, expected) {
        (Value::Object(got), Value::Object(expected)) => {
            assert!(got.keys().eq(expected.keys()), "{place}");
            for (key, value) in got {
                assert_close(&format!("{place}.{key}"), value, &expected[key]);
            }
        }
        (Value::Array(got), Value::Array(expected)) => {
            assert_eq!(got.len(), expected.len(), "{place}");
            for (got, expected) in got.iter().zip(expected) {
                assert_close(place, got, expected);
            }
        }
        (Value::Number(got), Value::Number(expected)) if got.is_f64() => {
            let off = got.as_f64().zip(expected.as_f64()).map(|(x, y)| (x - y).abs());
            assert!(off.is_some_and(|off| off <= TOLERANCE), "{place}: {got}, {expected}");
        }
        _ => assert_eq!(got, expected, "{place}"),
    }
}

#[test]
fn a_long_file_reads_what_the_meter_reads() {
    let folder = Folder::new("parts");
    let path = folder.path("long.wav");
    let [left, right] = channels();
    wav::write(&path, RATE_HZ, &[&left, &right]);
    let (outcome, records) = records(&["read", &path]);
    assert_eq!((outcome, records.len()), (Outcome::Fine, 1));
    assert_eq!(records[0]["warnings"], serde_json::json!([]));
    assert_close("reading", &records[0]["reading"], &reading_of(&[&left, &right]));
}

#[test]
fn a_long_file_that_breaks_off_is_measured_to_its_end_and_warned_of_once() {
    let folder = Folder::new("parts-broken");
    let path = folder.path("long.wav");
    let [left, right] = channels();
    wav::write(&path, RATE_HZ, &[&left, &right]);
    // A third of a second and half a frame are missing.
    let bytes = std::fs::read(&path).expect("the file just written");
    let missing = RATE_HZ as usize / 3;
    std::fs::write(&path, &bytes[..bytes.len() - missing * 8 - 4]).expect("a file can be written");
    let (outcome, records) = records(&["read", &path]);
    assert_eq!((outcome, records.len()), (Outcome::Fine, 1));
    let warnings = records[0]["warnings"].as_array().expect("warnings");
    assert_eq!(warnings.len(), 1, "{warnings:?}");
    let kept = FRAMES - missing - 1;
    let expected = reading_of(&[&left[..kept], &right[..kept]]);
    assert_close("reading", &records[0]["reading"], &expected);
}
