//! The entries that the plugin logs: those of a file of the same samples, and those that the host's
//! transport, its automation and odd input make.

use std::path::Path;

use ledgerline_measure::entries::{Clock, Entries};
use ledgerline_measure::{Settings, View};
use ledgerline_tests::alone::alone;
use ledgerline_tests::built::BuiltFor;
use ledgerline_tests::hosts::{Change, ClapHost, Cue, Host, Layout, Setup, Take};
use ledgerline_tests::journal::{files, lines, of_schema};
use ledgerline_tests::signals::noise;
use serde_json::{Value, json};

use crate::material::noises;

const RATE_HZ: f64 = 48_000.0;
const SECOND: usize = 48_000;

/// A setup in which no audio comes too fast.
fn render() -> Setup {
    Setup { offline: true, ..Setup::new(RATE_HZ, Layout::Stereo) }
}

/// Entries in the log of the only instance.
fn logged(folder: &Path) -> Vec<Value> {
    of_schema(&lines(&files(folder)[0]), "ledgerline.entry/1")
}

/// What is at a place of each entry.
fn each<'a>(entries: &'a [Value], place: &str) -> Vec<&'a Value> {
    entries.iter().map(|entry| entry.pointer(place).unwrap_or(&Value::Null)).collect()
}

/// Two noises in the middle: every six seconds from identical to independent, or back.
fn switched(seconds: usize) -> Vec<Vec<f32>> {
    let white = |seed| noise::white(seed, 0.3, seconds * SECOND);
    let (one, other) = (white(51), white(52));
    let sum =
        |n: usize| one[n] + if (n / (6 * SECOND)).is_multiple_of(2) { one[n] } else { other[n] };
    vec![(0..one.len()).map(sum).collect(); 2]
}

fn switched_noises_give_the_entries_of_a_file<H: BuiltFor>(folder: &Path) {
    let take = switched(24);
    let mut host = H::load(&H::built()).expect("the plugin");
    host.activate(render()).expect("activation");
    host.play(&Take::new(&take)).expect("audio");
    host.deactivate();
    let logged = logged(folder);

    let (settings, view) = (Settings::default(), View::default());
    let mut of_file = Entries::new(RATE_HZ, 2, 0, settings, view).expect("entries");
    for start in (0..take[0].len()).step_by(1000) {
        let piece = |channel: usize| &take[channel][start..start + 1000];
        of_file.take(&[piece(0), piece(1)], &[], Clock::default());
    }
    of_file.finish();
    // Through its text, so that both sides lose the same.
    let text = |entry| serde_json::to_string(entry).expect("a record");
    let of_file: Vec<Value> = of_file
        .list()
        .iter()
        .map(|entry| serde_json::from_str(&text(entry)).expect("JSON of our own"))
        .collect();
    assert_eq!(of_file.len(), 4, "of the file");
    for place in ["/entry", "/opened_by", "/incomplete", "/change/what", "/change/sentence"] {
        assert_eq!(each(&logged, place), each(&of_file, place), "{place}");
    }
    assert_eq!(each(&logged, "/change/what")[1..3], [&json!("decorrelated"), &json!("identical")]);
    for (logged, of_file) in logged.iter().zip(&of_file) {
        let seconds = |entry: &Value, key: &str| entry[key].as_f64().expect("a moment");
        for key in ["start_s", "end_s"] {
            assert!((seconds(logged, key) - seconds(of_file, key)).abs() <= 0.02, "{key}");
            // The transport began at 0.
            let host_s = seconds(logged, &format!("host_{key}"));
            assert!((host_s - seconds(logged, key)).abs() <= 0.01, "{key}: {host_s} s");
        }
        assert!(logged["utc_start"].as_str() <= logged["utc_end"].as_str(), "{logged}");
        assert!(logged["utc_start"].is_string());
        assert_eq!(logged["levels"], of_file["levels"]);
    }
}

in_both_formats!(switched_noises_give_the_entries_of_a_file);

/// Plays steady noise and returns what is logged of it.
fn played(folder: &Path, seconds: usize, cues: &[Cue], changes: &[Change<'_>]) -> Vec<Value> {
    let mut host = ClapHost::load(&ClapHost::built()).expect("the plugin");
    host.activate(render()).expect("activation");
    let take = noises(2, seconds * SECOND, 53);
    host.play(&Take::new(&take).with_cues(cues).with_changes(changes)).expect("audio");
    host.deactivate();
    logged(folder)
}

#[test]
fn a_loop_of_two_seconds_makes_no_entries() {
    alone(|folder| {
        let back = |turn: usize| Cue { at_frame: (4 + 2 * turn) * SECOND, to: Some(96_000) };
        let cues: Vec<Cue> = (0..6).map(back).collect();
        let entries = played(folder, 16, &cues, &[]);
        // This host does not tell its loop: the first return could be any jump.
        assert_eq!(each(&entries, "/opened_by"), ["start", "jump"]);
        assert_eq!(entries[1]["end_s"], 16.0);
    });
}

#[test]
fn each_jump_makes_an_entry_and_a_stop_makes_none() {
    alone(|folder| {
        let jump =
            |n: usize| Cue { at_frame: n * SECOND, to: Some((1_000 - 70 * n * n) as i64 * 9_600) };
        let mut cues: Vec<Cue> = (1..=3).map(jump).collect();
        cues.push(Cue { at_frame: 5 * SECOND, to: None });
        cues.push(Cue { at_frame: 6 * SECOND, to: Some(960_000) });
        let entries = played(folder, 8, &cues, &[]);
        assert_eq!(each(&entries, "/opened_by"), ["start", "jump", "jump", "jump"]);
        let starts_s: Vec<f64> =
            each(&entries, "/start_s").iter().map(|s| s.as_f64().expect("seconds")).collect();
        assert!(
            starts_s.iter().zip(0..).all(|(s, n)| (s - f64::from(n)).abs() < 0.01),
            "{starts_s:?}"
        );
        let end_s = entries[3]["host_end_s"].as_f64().expect("seconds");
        assert!((end_s - 22.0).abs() < 0.001, "{end_s}");
    });
}

#[test]
fn a_mark_makes_an_entry_and_a_hundred_a_second_make_few() {
    alone(|folder| {
        let press =
            |at_s: f64, value| Change { at_frame: (at_s * RATE_HZ) as usize, id: "mark", value };
        let mut changes = vec![press(2.0, 1.0), press(2.5, 0.0)];
        for n in 0..200 {
            changes.push(press(4.0 + 0.01 * f64::from(n), f64::from(1 - n % 2)));
        }
        let entries = played(folder, 8, &[], &changes);
        let opened_by = each(&entries, "/opened_by");
        assert_eq!(opened_by[..3], ["start", "mark", "mark"]);
        assert!(opened_by.len() <= 6, "{opened_by:?}");
        let start_s = entries[1]["start_s"].as_f64().expect("seconds");
        // The block in which it was pressed.
        assert!((start_s - 2.0).abs() <= 0.011, "{start_s}");
        let shortest = entries.iter().map(|entry| {
            entry["end_s"].as_f64().unwrap_or(0.0) - entry["start_s"].as_f64().unwrap_or(9.0)
        });
        assert!(shortest.fold(f64::INFINITY, f64::min) >= 0.5, "{entries:?}");
    });
}

#[test]
fn another_rate_goes_on_with_the_list_and_odd_input_and_blocks_of_one_frame_do_no_harm() {
    alone(|folder| {
        let mut take = noises(2, 2 * SECOND, 54);
        take[0][3 * SECOND / 2] = f32::NAN;
        let mut host = ClapHost::load(&ClapHost::built()).expect("the plugin");
        for rate_hz in [RATE_HZ, 96_000.0] {
            host.activate(Setup::new(rate_hz, Layout::Stereo)).expect("activation");
            host.play(&Take::new(&take).in_blocks(&[1])).expect("audio");
        }
        host.deactivate();
        let entries = logged(folder);
        assert_eq!(each(&entries, "/opened_by"), ["start", "settings"]);
        assert_eq!(each(&entries, "/entry"), [1, 2]);
        assert_eq!(each(&entries, "/incomplete"), [false, false]);
        assert_eq!([&entries[1]["start_s"], &entries[1]["end_s"]], [2.0, 3.0]);
        for entry in &entries {
            assert!(entry["levels"]["whole"]["bus"]["rms"].is_f64(), "{entry}");
        }
    });
}

#[test]
fn a_long_silence_is_time_that_passes() {
    alone(|folder| {
        let mut take = noises(2, 50 * SECOND, 55);
        for channel in &mut take {
            channel[..10 * SECOND].fill(0.0);
            channel[14 * SECOND..44 * SECOND].fill(0.0);
        }
        let mut host = ClapHost::load(&ClapHost::built()).expect("the plugin");
        host.activate(render()).expect("activation");
        host.play(&Take::new(&take)).expect("audio");
        host.deactivate();
        let entries = logged(folder);
        let near = |place, expected: [f64; 4]| {
            let found = each(&entries, place);
            let found: Vec<f64> = found.iter().map(|s| s.as_f64().expect("seconds")).collect();
            let same =
                found.iter().zip(expected).all(|(found, other)| (found - other).abs() <= 0.02);
            assert!(same && found.len() == 4, "{place}: {found:?}, not {expected:?}");
        };
        near("/start_s", [0.0, 10.0, 14.0, 44.0]);
        near("/end_s", [10.0, 14.0, 44.0, 50.0]);
        near("/host_start_s", [0.0, 10.0, 14.0, 44.0]);
        near("/host_end_s", [10.0, 14.0, 44.0, 50.0]);
    });
}
