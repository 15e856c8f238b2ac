//! The audio side driven without a host: what it leaves alone, and what it writes to the log.

use std::path::PathBuf;

use ledgerline_measure::{Meter, View};
use serde_json::Value;

use super::*;
use crate::boards::Boards;
use crate::handover::{Subscriber, handover};
use crate::history::Span;
use crate::log::Log;
use crate::status::Status;

const BUS: Bus = Bus { rate_hz: 48_000.0, main: 2, side_chain: 2 };

struct Rig {
    audio: AudioSide,
    subscriber: Subscriber,
    buttons: Arc<Buttons>,
    boards: Arc<Boards>,
    status: Arc<Status>,
}

fn rig(log: Log) -> Rig {
    let status = Arc::new(Status::default());
    let buttons = Arc::new(Buttons::default());
    let params = Arc::new(LedgerlineParams::new(buttons.clone(), status.clone()));
    let (publisher, subscriber) = handover();
    let boards = Arc::new(Boards::default());
    let background = Background::new(params.clone(), status.clone(), boards.clone(), log);
    let audio = AudioSide::new(params, buttons.clone(), publisher, background);
    Rig { audio, subscriber, buttons, boards, status }
}

/// Noise that is the same on every machine.
fn noise(frames: usize, mut seed: u32) -> Vec<f32> {
    let mut next = || {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (seed >> 8) as f32 / 8_388_608.0 - 1.0
    };
    (0..frames).map(|_| next() * 0.5).collect()
}

fn run(audio: &mut AudioSide, left: &mut [f32], right: &mut [f32], side: &[f32], block: usize) {
    let blocks = left.chunks_mut(block).zip(right.chunks_mut(block)).zip(side.chunks(block));
    for ((left, right), side) in blocks {
        audio.process(&mut [left, right], &[side, side], Place::default());
    }
}

fn lines(folder: &PathBuf) -> Vec<Value> {
    let mut files: Vec<_> = std::fs::read_dir(folder).unwrap().map(|f| f.unwrap().path()).collect();
    assert_eq!(files.len(), 1, "one file an instance");
    let text = std::fs::read_to_string(files.remove(0)).unwrap();
    std::fs::remove_dir_all(folder).unwrap();
    text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

#[test]
fn the_log_has_a_row_a_second_and_a_reading_at_the_end_however_the_stream_is_cut() {
    let (left, right) = (noise(120_000, 1), noise(120_000, 2));
    let mut logs = Vec::new();
    for block in [64, 1000, 8192, 120_000] {
        let folder = std::env::temp_dir()
            .join(format!("ledgerline-audio-test-{}-{block}", std::process::id()));
        let mut rig = rig(Log::new(Some(folder.clone())));
        rig.audio.activate(BUS, false);
        run(&mut rig.audio, &mut left.clone(), &mut right.clone(), &left, block);
        rig.audio.deactivate();
        assert_eq!(rig.status.messages(), Vec::<String>::new());
        logs.push(lines(&folder));
    }
    let mut meter = Meter::new(48_000.0, 2, 2, Default::default()).unwrap();
    let mut own: Vec<Value> = Vec::new();
    for (start, end) in [(0, 48_000), (48_000, 96_000), (96_000, 120_000)] {
        meter.process(&[&left[start..end], &right[start..end]], &[&left[start..end]; 2]);
        if end == 120_000 {
            meter.finish();
        }
        let text = serde_json::to_string(&meter.reading(&View::default())).unwrap();
        own.push(serde_json::from_str(&text).unwrap());
    }
    for mut log in logs {
        let entries = log.extract_if(.., |line| line["schema"] == "ledgerline.entry/1");
        assert_eq!(entries.count(), 1, "all of it is one entry");
        assert_eq!(log.len(), 1 + own.len(), "a first line and one for each reading");
        assert_eq!(log.last(), own.last(), "not the measures' own reading");
        for (row, reading) in log[1..].iter().zip(&own[..2]) {
            assert_row(&log[0], row, reading);
        }
    }
}

/// Panics unless a row says what a reading does, to 0.01 dB, under the first line's names.
fn assert_row(first: &Value, row: &Value, reading: &Value) {
    for (key, place) in first["row"].as_object().unwrap() {
        let place = place.as_str().unwrap();
        // Nobody has said which meter is the user's own.
        let none = place.strip_prefix("/your_meter/").map(|_| &reading["your_meter"]);
        let exact = reading.pointer(place).or(none).unwrap();
        match (exact.as_f64(), row[key].as_f64()) {
            (Some(exact), Some(row)) => assert!((exact - row).abs() <= 0.005 + 1e-9, "{place}"),
            _ => assert_eq!(exact, &row[key], "{place}"),
        }
    }
}

#[test]
fn every_bit_passes_whatever_it_means_and_whether_or_not_it_can_be_measured() {
    let odd = [f32::from_bits(0x7fa0_1234), f32::NEG_INFINITY, 1e-42, -0.0, 1e30, 0.25];
    let signal: Vec<f32> = odd.into_iter().cycle().take(5000).collect();
    for rate_hz in [48_000.0, 0.0, f64::NAN, -1.0, 1e12] {
        let mut rig = rig(Log::new(None));
        rig.audio.activate(Bus { rate_hz, ..BUS }, false);
        let (mut left, mut right) = (signal.clone(), signal.clone());
        run(&mut rig.audio, &mut left, &mut right, &signal, 777);
        for (before, after) in signal.iter().zip(left.iter().chain(&right)) {
            assert_eq!(before.to_bits(), after.to_bits(), "at {rate_hz} Hz");
        }
        assert_eq!(rig.status.messages().is_empty(), rate_hz == 48_000.0);
    }
}

#[test]
fn readings_outlive_a_pause_but_neither_a_reset_nor_a_render() {
    let silence = vec![0.0; 48_000];
    let mut rig = rig(Log::new(None));
    let second = |audio: &mut AudioSide| {
        run(audio, &mut silence.clone(), &mut silence.clone(), &silence, 512);
    };
    rig.audio.activate(BUS, false);
    second(&mut rig.audio);
    rig.audio.deactivate();
    rig.audio.activate(BUS, false);
    second(&mut rig.audio);
    // Readings trail by what the filters need.
    assert!((rig.subscriber.latest().reading.time_s - 2.0).abs() < 0.3);

    rig.buttons.reset.press();
    second(&mut rig.audio);
    assert!((rig.subscriber.latest().reading.time_s - 1.0).abs() < 0.3);

    rig.audio.deactivate();
    rig.audio.activate(BUS, true);
    second(&mut rig.audio);
    assert!((rig.subscriber.latest().reading.time_s - 1.0).abs() < 0.3);
    rig.audio.deactivate();
    rig.audio.activate(BUS, false);
    assert_eq!(rig.subscriber.latest().reading.time_s, 0.0);
}

#[test]
fn a_reset_can_be_undone_for_ten_seconds() {
    // Overs before the reset and behind it.
    let second = |mut channel: Vec<f32>| {
        channel[10_000..10_003].fill(1.5);
        channel
    };
    let (left, right) = (second(noise(48_000, 1)), noise(48_000, 2));
    let play = |rig: &mut Rig, seconds: usize| {
        for _ in 0..seconds {
            run(&mut rig.audio, &mut left.clone(), &mut right.clone(), &left, 512);
        }
    };
    let [mut undone, mut expected] = [(); 2].map(|()| rig(Log::new(None)));
    let read = |rig: &mut Rig| {
        let reading = rig.subscriber.latest().reading;
        (reading.time_s, reading.whole.bus.overs, reading.whole.bus.integrated_lufs)
    };
    for rig in [&mut undone, &mut expected] {
        rig.audio.activate(BUS, false);
        play(rig, 3);
    }
    undone.buttons.reset.press();
    for rig in [&mut undone, &mut expected] {
        play(rig, 4);
    }
    undone.buttons.undo_reset.press();
    for rig in [&mut undone, &mut expected] {
        play(rig, 1);
        rig.audio.stop();
    }
    assert_eq!(read(&mut undone), read(&mut expected));
    assert_eq!(read(&mut undone).1, Some(8));

    // Both at once, as when nothing was processed between; and a reset that comes last.
    undone.buttons.reset.press();
    undone.buttons.undo_reset.press();
    for rig in [&mut undone, &mut expected] {
        play(rig, 2);
    }
    assert_eq!(read(&mut undone), read(&mut expected));
    assert_eq!(read(&mut undone).1, Some(9));
    for button in [&undone.buttons.reset, &undone.buttons.undo_reset, &undone.buttons.reset] {
        button.press();
    }
    play(&mut undone, 11);
    let (time_s, ..) = read(&mut undone);
    assert!(time_s < 11.0, "{time_s}");
    // After ten seconds there is nothing to come back.
    undone.buttons.undo_reset.press();
    play(&mut undone, 1);
    assert!(read(&mut undone).0 < 12.0);
    // Nor is there where another meter has begun, which the editor is told.
    undone.buttons.reset.press();
    play(&mut undone, 1);
    let afresh = undone.buttons.afresh.presses();
    undone.audio.activate(Bus { rate_hz: 96_000.0, ..BUS }, false);
    assert_ne!(undone.buttons.afresh.presses(), afresh);
    undone.buttons.undo_reset.press();
    play(&mut undone, 1);
    assert!(read(&mut undone).0 < 1.0);
}

#[test]
fn the_log_says_where_a_reset_was_undone_behind_lines_that_count_from_it() {
    let folder = std::env::temp_dir().join(format!("ledgerline-undo-test-{}", std::process::id()));
    let mut rig = rig(Log::new(Some(folder.clone())));
    let second = noise(48_000, 1);
    rig.audio.activate(BUS, false);
    for turn in 0..8 {
        match turn {
            3 | 7 => rig.buttons.reset.press(),
            5 => rig.buttons.undo_reset.press(),
            _ => {}
        }
        if turn == 7 {
            // No line has come since.
            rig.buttons.undo_reset.press();
        }
        run(&mut rig.audio, &mut second.clone(), &mut second.clone(), &second, 480);
    }
    rig.audio.deactivate();
    let mut log = lines(&folder);
    log.retain(|line| line["schema"] != "ledgerline.entry/1");
    let undone: Vec<usize> =
        (0..log.len()).filter(|&line| log[line]["schema"] == "ledgerline.undo/1").collect();
    assert_eq!(undone, [6], "behind the first line, three rows and two");
    let times: Vec<f64> = log[1..].iter().map(|line| line["time_s"].as_f64().unwrap()).collect();
    // Readings trail by what the filters need.
    for (time_s, expected_s) in times.iter().zip([1.0, 2.0, 3.0, 1.0, 2.0, 5.0, 6.0, 7.0, 8.0]) {
        assert!(expected_s - time_s > 0.0 && expected_s - time_s < 0.3, "{times:?}");
    }
}

#[test]
fn the_history_tells_each_over_once_whatever_was_undone() {
    let mut rig = rig(Log::new(None));
    rig.audio.activate(BUS, false);
    let mut left = vec![0.1; 24_000];
    left[5_000..5_003].fill(1.5);
    for turn in 0..8 {
        match turn {
            2 => rig.buttons.reset.press(),
            5 => rig.buttons.undo_reset.press(),
            _ => {}
        }
        run(&mut rig.audio, &mut left.clone(), &mut vec![0.0; 24_000], &left, 480);
    }
    rig.audio.deactivate();
    let history = rig.boards.history.lock();
    let (columns, _) = history.columns.of(Span::Minute);
    let overs: Vec<f64> =
        columns.filter(|column| column.overs > 0).map(|column| column.end_s).collect();
    assert_eq!(overs.len(), 8, "{overs:?}");
    for (turn, end_s) in overs.iter().enumerate() {
        // In the tenth that it happened in, or the next.
        let ago_s = end_s - (turn as f64 * 0.5 + 0.104);
        assert!((0.0..0.2).contains(&ago_s), "{overs:?}");
    }
}

#[test]
fn a_side_chain_that_is_left_out_counts_as_silent() {
    let mut rig = rig(Log::new(None));
    rig.audio.activate(BUS, false);
    let (mut left, mut right) = (noise(4800, 1), noise(4800, 2));
    rig.audio.process(&mut [&mut left, &mut right], &[&[], &[]], Place::default());
    rig.audio.process(&mut [&mut left, &mut right], &[], Place::default());
    rig.audio.stop();
    assert_eq!(rig.subscriber.latest().reading.time_s, 0.2);
}
