//! Two feeds and a bus in one session: what the bus logs against the audit of what it heard.

use std::path::Path;

use ledgerline_measure::sum_test::{Audit, Feed, USUAL_LEVEL_DBFS, audit};
use ledgerline_tests::built::BuiltFor;
use ledgerline_tests::hosts::{ClapHost, Cue, Host, Layout, Setup, Take};
use ledgerline_tests::journal::{files, lines, of_schema};
use serde_json::Value;

use super::{choose, name, schedule};
use crate::material::{CHANGING_BLOCKS, assert_same_bits};

/// Three instances of the plugin on one transport: two tracks and the bus that they are sent to.
struct Session<H: Host> {
    feeds: [H; 2],
    bus: H,
    /// Linear gain of each track.
    gains: [f32; 2],
}

impl<H: BuiltFor> Session<H> {
    fn new(rate_hz: f64, offline: bool, gains: [f32; 2]) -> Self {
        let setup = Setup { offline, ..Setup::new(rate_hz, Layout::Stereo) };
        let instance = |role: &str| {
            let mut host = H::load(&H::built()).expect("the plugin");
            choose(&mut host, "sum_test", role);
            host.set("feed_offline", f64::from(u8::from(offline)));
            host.activate(setup).expect("activation");
            host
        };
        // Instances are numbered by when they first log: the bus is the first.
        let bus = instance("Bus");
        let feeds = [Feed::One, Feed::Two].map(|feed| instance(name(feed)));
        Self { feeds, bus, gains }
    }

    /// Plays the session over silent tracks and returns what the bus carried.
    fn play(&mut self, frames: usize, cues: &[Cue]) -> Vec<Vec<f32>> {
        let silence = vec![vec![0.0; frames]; 2];
        let [one, two] = self.feeds.each_mut().map(|feed| {
            let take = Take::new(&silence).with_cues(cues).in_blocks(&[512]);
            feed.play(&take).expect("a feed")
        });
        let sum: Vec<Vec<f32>> = one
            .iter()
            .zip(&two)
            .map(|(one, two)| {
                one.iter().zip(two).map(|(x, y)| self.gains[0] * x + self.gains[1] * y).collect()
            })
            .collect();
        let take = Take::new(&sum).with_cues(cues).in_blocks(&CHANGING_BLOCKS);
        let output = self.bus.play(&take).expect("the bus");
        assert_same_bits(&output, &sum, "through the bus");
        sum
    }

    /// Ends the session and returns the lines of the instance that logged a sum test but for the
    /// first, each with the table as it stood: a row holds it only where it has changed.
    fn logged(mut self, folder: &Path) -> Vec<Value> {
        self.bus.deactivate();
        self.feeds.iter_mut().for_each(H::deactivate);
        let logs: Vec<Vec<Value>> = files(folder).iter().map(|file| lines(file)).collect();
        assert_eq!(logs.len(), 3, "one log an instance");
        let mut busses: Vec<_> = logs
            .into_iter()
            .filter(|log| log.iter().any(|line| line.get("sum_test").is_some()))
            .collect();
        assert_eq!(busses.len(), 1, "only the bus has a table");
        let mut table = Value::Null;
        // A line a second, and the last; entries come between them.
        let is_entry = |line: &Value| line["schema"] == "ledgerline.entry/1";
        let lines = busses.remove(0).into_iter().skip(1).filter(|line| !is_entry(line));
        lines
            .map(|mut line| {
                match line.get("sum_test") {
                    Some(changed) => table = changed.clone(),
                    None => line["sum_test"] = table.clone(),
                }
                line
            })
            .collect()
    }
}

fn length(rate_hz: f64) -> usize {
    schedule(rate_hz).length_frames() as usize
}

fn audited(bus: &[Vec<f32>], rate_hz: f64) -> Audit {
    audit(&[&bus[0], &bus[1]], rate_hz as u32, USUAL_LEVEL_DBFS).expect("a recording of the test")
}

/// Panics unless the table is the audit's.
fn assert_audit(sum_test: &Value, audit: &Audit) {
    let text = serde_json::to_string(audit).expect("plain data");
    let audit: Value = serde_json::from_str(&text).expect("our own JSON");
    assert_eq!(sum_test["state"], "complete", "{}", sum_test["sentence"]);
    assert_same_audit(sum_test, &audit);
}

/// Panics unless both say the same of the bus: one heard it live, one in a recording.
pub fn assert_same_audit(sum_test: &Value, audit: &Value) {
    let (logged, recorded) = (&sum_test["steps"], &audit["steps"]);
    assert_eq!(logged.as_array().map(Vec::len), Some(16));
    assert_close("steps", logged, recorded);
    assert_eq!(sum_test["verdict"], audit["verdict"]);
    assert_close("alignment", &sum_test["alignment"]["gain_db"], &audit["alignment"]["gain_db"]);
    assert_eq!(sum_test["alignment"]["polarity"], audit["alignment"]["polarity"]);
    let codes = |faults: &Value| -> Vec<Value> {
        faults.as_array().expect("faults").iter().map(|fault| fault["code"].clone()).collect()
    };
    assert_eq!(codes(&sum_test["faults"]), codes(&audit["faults"]));
}

/// Panics unless both are the same: texts and switches exactly, numbers within a part of a sample
/// or 0.0001 dB, since a recording is aligned by its sound. Below −300 dB is nothing.
fn assert_close(path: &str, logged: &Value, recorded: &Value) {
    let nothing = |value: &Value| value == "-inf" || value.as_f64().is_some_and(|db| db < -300.0);
    match (logged, recorded) {
        (Value::Object(left), Value::Object(right)) => {
            assert_eq!(
                left.keys().collect::<Vec<_>>(),
                right.keys().collect::<Vec<_>>(),
                "keys of {path}"
            );
            for (key, left) in left {
                assert_close(&format!("{path}/{key}"), left, &right[key]);
            }
        }
        (Value::Array(left), Value::Array(right)) => {
            assert_eq!(left.len(), right.len(), "{path}");
            for (index, (left, right)) in left.iter().zip(right).enumerate() {
                assert_close(&format!("{path}/{index}"), left, right);
            }
        }
        _ if nothing(logged) && nothing(recorded) => {}
        _ => match (logged.as_f64(), recorded.as_f64()) {
            (Some(left), Some(right)) => {
                assert!((left - right).abs() <= 1e-4, "{path}: logged {left}, audited {right}");
            }
            _ => assert_eq!(logged, recorded, "{path}"),
        },
    }
}

fn the_table_is_the_audit_of_the_recording<H: BuiltFor>(folder: &Path, offline: bool, db: f32) {
    the_table_is_the_audit_at::<H>(48_000.0, folder, offline, db);
}

fn the_table_is_the_audit_at<H: BuiltFor>(rate_hz: f64, folder: &Path, offline: bool, db: f32) {
    let mut session = Session::<H>::new(rate_hz, offline, [1.0, 10f32.powf(db / 20.0)]);
    let bus = session.play(length(rate_hz), &[]);
    let log = session.logged(folder);
    let audit = audited(&bus, rate_hz);
    assert_audit(&last_table(&log), &audit);
    // Step by step, never a step that has not been measured, and no verdict before the end.
    let mut steps = 0;
    for line in &log {
        let sum_test = &line["sum_test"];
        let now = sum_test["steps"].as_array().expect("steps").len();
        assert!(now >= steps && now <= steps + 1, "{steps}, then {now}");
        steps = now;
        assert_eq!(sum_test["verdict"].is_null(), sum_test["state"] != "complete");
    }
}

fn a_clean_bus<H: BuiltFor>(folder: &Path) {
    the_table_is_the_audit_of_the_recording::<H>(folder, false, 0.0);
}

fn a_clean_bus_offline<H: BuiltFor>(folder: &Path) {
    the_table_is_the_audit_of_the_recording::<H>(folder, true, 0.0);
}

fn a_bus_at_44_100_hz<H: BuiltFor>(folder: &Path) {
    the_table_is_the_audit_at::<H>(44_100.0, folder, false, -0.5);
}

fn a_bus_at_96_000_hz<H: BuiltFor>(folder: &Path) {
    the_table_is_the_audit_at::<H>(96_000.0, folder, true, 0.0);
}

fn a_bus_with_unequal_channels<H: BuiltFor>(folder: &Path) {
    the_table_is_the_audit_of_the_recording::<H>(folder, false, -0.5);
}

/// The transport jumps in step 4, plays on in the middle, and goes back to the beginning.
fn a_jump_interrupts_and_the_beginning_starts_afresh<H: BuiltFor>(folder: &Path) {
    let rate_hz = 48_000.0;
    let jump = (20.0 * rate_hz) as usize;
    let back = jump + (5.0 * rate_hz) as usize;
    let cues = [
        Cue { at_frame: jump, to: Some((60.0 * rate_hz) as i64) },
        Cue { at_frame: back, to: Some(0) },
    ];
    let mut session = Session::<H>::new(rate_hz, false, [1.0, 1.0]);
    let bus = session.play(back + length(rate_hz), &cues);
    let log = session.logged(folder);
    let at = |second: usize| &log[second - 1]["sum_test"];
    assert_eq!((&at(19)["state"], &at(19)["run"]), (&"running".into(), &1.into()));
    assert_eq!(at(23)["state"], "interrupted");
    let sentence = at(23)["sentence"].as_str().expect("a sentence");
    assert!(sentence.contains("jumped") && sentence.contains("step 4"), "{sentence}");
    assert!(at(23)["verdict"].is_null());
    assert_eq!((&at(28)["state"], &at(28)["run"]), (&"running".into(), &2.into()));
    let sentence = at(28)["sentence"].as_str().expect("a sentence");
    assert!(sentence.contains("started again"), "{sentence}");
    let recording: Vec<Vec<f32>> = bus.iter().map(|channel| channel[back..].to_vec()).collect();
    assert_audit(&last_table(&log), &audited(&recording, rate_hz));
}

/// A loop over half the test never completes it, and says so without a verdict.
fn a_loop_restarts_each_time<H: BuiltFor>(folder: &Path) {
    let rate_hz = 48_000.0;
    let round = (15.0 * rate_hz) as usize;
    let cues: Vec<Cue> =
        (0..4).map(|round_no| Cue { at_frame: round_no * round, to: Some(0) }).collect();
    let mut session = Session::<H>::new(rate_hz, false, [1.0, 1.0]);
    session.play(4 * round, &cues);
    let log = session.logged(folder);
    for (index, line) in log.iter().take(59).enumerate() {
        let sum_test = &line["sum_test"];
        assert_eq!(sum_test["run"], index / 15 + 1, "second {}", index + 1);
        assert_eq!(sum_test["state"], "running");
        assert!(sum_test["verdict"].is_null());
    }
}

/// The table in the last full reading of a log.
fn last_table(log: &[Value]) -> Value {
    of_schema(log, "ledgerline.reading/1").pop().expect("a reading")["sum_test"].take()
}

fn without_feeds_there_is_no_verdict<H: BuiltFor>(folder: &Path) {
    let rate_hz = 48_000.0;
    let mut session = Session::<H>::new(rate_hz, false, [0.0, 0.0]);
    session.play(length(rate_hz), &[]);
    let log = session.logged(folder);
    let sum_test = &last_table(&log);
    assert_eq!(sum_test["verdict"], "cannot_tell");
    let sentence = sum_test["sentence"].as_str().expect("a sentence");
    assert!(sentence.contains("Nothing came through"), "{sentence}");
}

fn at_a_rate_without_a_test_the_bus_says_so<H: BuiltFor>(folder: &Path) {
    let mut session = Session::<H>::new(32_000.0, false, [1.0, 1.0]);
    let bus = session.play(200_000, &[]);
    assert!(bus.iter().flatten().all(|x| *x == 0.0), "a feed of its own");
    let log = session.logged(folder);
    let sum_test = &last_table(&log);
    assert!(sum_test["state"].is_null() && sum_test["verdict"].is_null());
    let sentence = sum_test["sentence"].as_str().expect("a sentence");
    assert!(sentence.contains("44.1 to 192 kHz"), "{sentence}");
}

in_both_formats!(
    a_clean_bus,
    a_clean_bus_offline,
    a_bus_at_44_100_hz,
    a_bus_at_96_000_hz,
    a_bus_with_unequal_channels,
    a_jump_interrupts_and_the_beginning_starts_afresh,
    a_loop_restarts_each_time,
    without_feeds_there_is_no_verdict,
    at_a_rate_without_a_test_the_bus_says_so,
);

/// Four times the samples of 48 kHz, so in one format only.
#[test]
fn a_bus_at_192_000_hz_in_clap() {
    ledgerline_tests::alone::alone(|folder| {
        the_table_is_the_audit_at::<ClapHost>(192_000.0, folder, false, 0.0);
    });
}
