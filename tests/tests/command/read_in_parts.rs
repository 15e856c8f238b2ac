//! `ledgerline read` measures a long file in parts, and says what it would have said in one go; and
//! many files with a few meters, and says what it says of each alone.

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
    reading_at(RATE_HZ, None, channels)
}

fn reading_at(rate_hz: u32, word_bits: Option<u32>, channels: &[&[f32]]) -> Value {
    let mut meter =
        Meter::new(f64::from(rate_hz), 2, 0, Settings::default()).expect("a stereo meter");
    meter.set_word_bits(word_bits);
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

/// AIFF of 16 bits at 16 kHz, which can be read from its start to its end only.
fn aiff_at_16_khz(channels: [&[i16]; 2]) -> Vec<u8> {
    let frames = channels[0].len() as u32;
    // The rate as an 80-bit float: 16 000 is 0xfa00 of 2^15 parts of 2^14.
    let rate = [0x40, 0x0c, 0xfa, 0, 0, 0, 0, 0, 0, 0];
    let sound_bytes = 8 + 4 * frames;
    let mut bytes = Vec::new();
    bytes.extend(b"FORM");
    bytes.extend((4 + 26 + 8 + sound_bytes).to_be_bytes());
    bytes.extend(b"AIFFCOMM\0\0\0\x12\0\x02");
    bytes.extend(frames.to_be_bytes());
    bytes.extend([0, 16]);
    bytes.extend(rate);
    bytes.extend(b"SSND");
    bytes.extend(sound_bytes.to_be_bytes());
    bytes.extend([0; 8]);
    for (left, right) in channels[0].iter().zip(channels[1]) {
        bytes.extend(left.to_be_bytes());
        bytes.extend(right.to_be_bytes());
    }
    bytes
}

#[test]
fn a_long_file_that_cannot_be_read_in_parts_is_measured_in_parts_all_the_same() {
    const RATE_HZ: u32 = 16_000;
    let folder = Folder::new("parts-while-decoding");
    // Two parts and a half, and an end between what makes a part and what does not.
    for seconds in [113.0, 93.5] {
        let frames = (seconds * f64::from(RATE_HZ)) as usize + 3;
        let words = [noise::white(93, 0.5, frames), noise::white_gaussian(94, 0.1, frames)]
            .map(|samples| samples.iter().map(|x| (x * 32_767.0) as i16).collect::<Vec<i16>>());
        let path = folder.path("long.aiff");
        std::fs::write(&path, aiff_at_16_khz([&words[0], &words[1]])).expect("room");
        let (outcome, records) = records(&["read", &path]);
        assert_eq!((outcome, records.len()), (Outcome::Fine, 1));
        assert_eq!(records[0]["warnings"], serde_json::json!([]));
        let [left, right] =
            words.map(|words| words.iter().map(|&x| f32::from(x) / 32_768.0).collect::<Vec<_>>());
        let expected = reading_at(RATE_HZ, Some(16), &[&left, &right]);
        assert_close(&format!("{seconds} s"), &records[0]["reading"], &expected);
    }
}

#[test]
fn files_read_together_read_what_each_reads_alone() {
    let folder = Folder::new("parts-together");
    let paths: Vec<String> = (0..6)
        .map(|index| {
            let path = folder.path(&format!("{index}.wav"));
            let frames = 30_000 + 7_000 * index;
            let amplitude = 0.3 + 0.2 * index as f64;
            let samples = noise::white(index as u64, amplitude, frames);
            let channels: [&[f32]; 2] = [&samples, &samples[..]];
            let rate_hz = if index == 3 { 44_100 } else { RATE_HZ };
            wav::write(&path, rate_hz, &channels[..if index == 4 { 1 } else { 2 }]);
            path
        })
        .collect();
    let words: Vec<&str> = paths.iter().chain(&paths).map(String::as_str).collect();
    let (_, together) = records(&[&["read"], &words[..]].concat());
    assert_eq!(together.len(), words.len());
    for (path, together) in words.iter().zip(&together) {
        let (_, alone) = records(&["read", path]);
        assert_eq!(&alone, std::slice::from_ref(together), "{path}");
    }
}
