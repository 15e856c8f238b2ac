//! Readings of the mixer's meter travel in the state, and what is saved at the end of a test is
//! what the command prints of a recording of the same bus.

use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

use ::clap::Parser;
use ledgerline::audio::AudioSide;
use ledgerline::background::Background;
use ledgerline::boards::Boards;
use ledgerline::bus::Bus;
use ledgerline::destination::Destination;
use ledgerline::handover::handover;
use ledgerline::log::Log;
use ledgerline::params::{LedgerlineParams, SumTestKind};
use ledgerline::sum_test::board::Board;
use ledgerline::sum_test::desk::{Desk, Question, Saving, SavingDone};
use ledgerline::sum_test::entries::Entries;
use ledgerline::sum_test::place::Place;
use ledgerline_measure::detector::Detector;
use ledgerline_measure::sum_test::{Feed, expectations};
use ledgerline_tests::alone::alone;
use ledgerline_tests::built::BuiltFor;
use ledgerline_tests::hosts::{ClapHost, Host, Layout, Setup, Take};
use nice_plug::prelude::{EnumParam, Params};
use serde_json::{Value, json};

use super::{choose, name, schedule};
use crate::saved_state::{changed, opened};

const RATE_HZ: u32 = 48_000;
/// The steps in which a meter was read.
const READ: [usize; 6] = [1, 3, 5, 8, 12, 13];
/// Longer than anything here takes on a busy machine.
const PATIENCE: Duration = Duration::from_secs(120);

/// What a programme meter of Type II shows, in whole decibels on a scale of its own.
fn shown_db(step: usize) -> f64 {
    let expectations = expectations(RATE_HZ).expect("a rate at which the test plays");
    let level = expectations.level(step - 1, 0, Detector::Programme2, -20.0);
    (level.finite().expect("a level") + 22.0).round()
}

fn entries_field() -> String {
    let shown: Vec<Value> = (1..=16)
        .map(|step| if READ.contains(&step) { json!(shown_db(step)) } else { Value::Null })
        .collect();
    json!({ "shown_db": shown, "resolution_db": 1.0 }).to_string()
}

/// A state of the built plugin that carries the readings.
fn state_with_readings<H: BuiltFor>() -> Vec<u8> {
    let mut host = H::load(&H::built()).expect("the plugin");
    let state = host.save().expect("a state");
    changed(&state, |json| json["fields"]["meter_shown"] = json!(entries_field()))
}

fn meter_of(state: &[u8]) -> Value {
    let field = opened(state)["fields"]["meter_shown"].clone();
    serde_json::from_str(field.as_str().expect("a text")).expect("JSON in the field")
}

fn readings_come_back_in_another_instance<H: BuiltFor>(_: &Path) {
    let state = state_with_readings::<H>();
    let mut other = H::load(&H::built()).expect("the plugin");
    other.recall(&state).expect("a state");
    let saved = other.save().expect("a state");
    assert_eq!(meter_of(&saved), meter_of(&state));
    assert_eq!(meter_of(&saved)["shown_db"][2], json!(shown_db(3)));
    // A state from before there were readings has none.
    let older = changed(&state, |json| {
        json["fields"].as_object_mut().expect("fields").remove("meter_shown");
    });
    other.recall(&older).expect("an older state");
    let shown = meter_of(&other.save().expect("a state"))["shown_db"].clone();
    assert_eq!(shown, json!(vec![Value::Null; 16]));
    // What are no readings at all is left out.
    for text in ["[", "null", ""] {
        let damaged = changed(&state, |json| json["fields"]["meter_shown"] = json!(text));
        other.recall(&damaged).expect("the rest of the state");
        let shown = meter_of(&other.save().expect("a state"))["shown_db"].clone();
        assert_eq!(shown, json!(vec![Value::Null; 16]), "{text}");
    }
    // What this version cannot read may be another's: it is written back until somebody types.
    let text = r#"{"shown_db":[1e9,-24.0,"x"],"resolution_db":1}"#;
    let newer = changed(&state, |json| json["fields"]["meter_shown"] = json!(text));
    other.recall(&newer).expect("the rest of the state");
    assert_eq!(meter_of(&other.save().expect("a state")), meter_of(&newer));
}

in_both_formats!(readings_come_back_in_another_instance);

/// The bus, in this process: what the plugin is made of but for window and host.
struct BusInstance {
    audio: AudioSide,
    boards: Arc<Boards>,
    params: Arc<LedgerlineParams>,
    desk: Desk,
}

impl BusInstance {
    /// An instance on the bus with a state of the built plugin.
    fn new(state: &[u8], folder: &Path) -> Self {
        let params = LedgerlineParams {
            sum_test: EnumParam::new("Sum test", SumTestKind::Bus),
            ..LedgerlineParams::new(Arc::default(), Arc::default())
        };
        let fields = opened(state)["fields"].clone();
        params.deserialize_fields(&serde_json::from_value(fields).expect("texts"));
        let (params, boards) = (Arc::new(params), Arc::new(Boards::default()));
        let log = Log::new(Some(folder.into()));
        let desk = Desk::new(log.destination().clone());
        let (publisher, _) = handover();
        let background = Background::new(params.clone(), Arc::default(), boards.clone(), log);
        let audio = AudioSide::new(params.clone(), Arc::default(), publisher, background);
        Self { audio, boards, params, desk }
    }

    fn play(&mut self, channels: &[Vec<f32>]) {
        let mut start = 0;
        for block in channels[0].chunks(512).map(<[f32]>::len) {
            let mut pieces: Vec<Vec<f32>> =
                channels.iter().map(|channel| channel[start..start + block].to_vec()).collect();
            let mut pieces: Vec<&mut [f32]> = pieces.iter_mut().map(Vec::as_mut_slice).collect();
            let place = Place { playing_at: Some(start as i64), ..Place::default() };
            self.audio.process(&mut pieces, &[], place);
            start += block;
        }
    }
}

/// Both feeds of the built plugin in an offline render, summed with the second one a little soft.
fn bus() -> Vec<Vec<f32>> {
    let frames = schedule(f64::from(RATE_HZ)).length_frames() as usize;
    let silence = vec![vec![0.0; frames]; 2];
    let setup = Setup { offline: true, ..Setup::new(f64::from(RATE_HZ), Layout::Stereo) };
    let [one, two] = [Feed::One, Feed::Two].map(|feed| {
        let mut host = ClapHost::load(&ClapHost::built()).expect("the plugin");
        choose(&mut host, "sum_test", name(feed));
        host.set("feed_offline", 1.0);
        host.activate(setup).expect("activation");
        host.play(&Take::new(&silence)).expect("a feed")
    });
    let sum = |(one, two): (&Vec<f32>, &Vec<f32>)| -> Vec<f32> {
        one.iter().zip(two).map(|(x, y)| x + 0.95 * y).collect()
    };
    one.iter().zip(&two).map(sum).collect()
}

/// What `ledgerline audit --json` prints of a recording of the bus.
fn audited(bus: &[Vec<f32>], folder: &Path) -> Value {
    let path = folder.join("recording.wav");
    let spec = hound::WavSpec {
        channels: 2,
        sample_rate: RATE_HZ,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut writer = hound::WavWriter::create(&path, spec).expect("a file");
    for (left, right) in bus[0].iter().zip(&bus[1]) {
        writer.write_sample(*left).expect("room");
        writer.write_sample(*right).expect("room");
    }
    writer.finalize().expect("room");
    let mut words = vec!["ledgerline".into(), "audit".into(), path.display().to_string()];
    words.extend(["--json", "--resolution", "1", "--shown"].map(String::from));
    words.extend(READ.map(|step| format!("{step}={}", shown_db(step))));
    let command = ledgerline_cli::Command::try_parse_from(words).expect("words it takes");
    let mut out = Vec::new();
    ledgerline_cli::run(&command, &mut out);
    serde_json::from_slice(&out).expect("JSON")
}

fn wait_for<T>(what: &str, look: impl Fn() -> Option<T>) -> T {
    let start = Instant::now();
    loop {
        if let Some(found) = look() {
            return found;
        }
        assert!(start.elapsed() < PATIENCE, "{what} never came");
        std::thread::sleep(Duration::from_millis(5));
    }
}

/// Saves as the editor's button does, and waits.
fn save(desk: &Desk, board: &Board, entries: Entries) -> Arc<SavingDone> {
    let conclusion = wait_for("the conclusion", || board.conclusion());
    desk.save(conclusion, entries);
    wait_for("the files", || match desk.saving() {
        Saving::Done(done) => Some(done),
        Saving::Idle | Saving::Busy => None,
    })
}

#[test]
fn what_is_saved_is_the_audit_of_the_rendered_file() {
    alone(|folder| {
        let bus = bus();
        let mut instance = BusInstance::new(&state_with_readings::<ClapHost>(), folder);
        let layout = Bus { rate_hz: f64::from(RATE_HZ), main: 2, side_chain: 0 };
        instance.audio.activate(layout, true);
        instance.play(&bus);
        instance.audio.deactivate();
        let entries = instance.params.meter.entries();
        let done = save(&instance.desk, &instance.boards.sum_test, entries);
        let saved = done.result.as_ref().expect("two files");
        let text = std::fs::read_to_string(&saved.record).expect("the record");
        let record: Value = serde_json::from_str(&text).expect("JSON");
        let audit = audited(&bus, folder);
        let keys = |value: &Value| -> Vec<String> {
            value.as_object().expect("an object").keys().cloned().collect()
        };
        for part in ["", "/recording", "/alignment", "/meter"] {
            let [saved, printed] =
                [&record, &audit].map(|value| keys(value.pointer(part).expect(part)));
            assert_eq!(saved, printed, "keys of {part}");
        }
        assert_eq!(record["recording"]["path"], Value::Null);
        assert_eq!(record["meter"], audit["meter"]);
        let likeliest = &record["meter"]["models"][0];
        assert_eq!(
            (&likeliest["detector"], &likeliest["band"]),
            (&json!("programme_2"), &json!("whole"))
        );
        assert_eq!(record["verdict"], "sums_correctly");
        assert_eq!(record["grades"], audit["grades"]);
        super::bus::assert_same_audit(&record, &audit);

        // Numbers and their units are kept together by spaces that do not break.
        let report = std::fs::read_to_string(&saved.report).expect("the report");
        let report = report.replace('\u{a0}', " ");
        assert!(report.starts_with("<!DOCTYPE html>"));
        let sentence = record["meter"]["sentence"].as_str().expect("a sentence");
        assert!(report.contains(sentence), "the report lacks {sentence}");

        let [stem, other] = [&saved.record, &saved.report].map(|path| path.with_extension(""));
        assert_eq!(stem, other);
        assert_eq!(stem.parent(), Some(folder));
        let process = std::process::id();
        let name = stem.file_name().expect("a name").to_string_lossy().into_owned();
        assert!(name.starts_with("ledgerline-20") && name.ends_with("-sum-test"), "{name}");
        assert!(name.contains(&format!("Z-{process}-")), "{name}");

        // Saved again in the same second, and with fewer readings than tell a meter.
        let again = save(&instance.desk, &instance.boards.sum_test, Entries::default());
        let again = again.result.as_ref().expect("two more files");
        assert_ne!(again.record, saved.record);
        let text = std::fs::read_to_string(&again.record).expect("the record");
        let record: Value = serde_json::from_str(&text).expect("JSON");
        assert_eq!(record["meter"], Value::Null);

        cannot_be_written(&instance.boards.sum_test, folder);
    });
}

/// A folder that cannot be made: nothing is left behind, and the sentence says where and what to
/// do.
fn cannot_be_written(board: &Board, folder: &Path) {
    let file = folder.join("a-file");
    std::fs::write(&file, "a file, where a folder is wanted").expect("room");
    let desk = Desk::new(Destination::new(Some(file.join("log"))));
    let done = save(&desk, board, Entries::default());
    let sentence = done.result.as_ref().expect_err("no folder").to_string();
    assert!(sentence.contains(&file.display().to_string()), "{sentence}");
    assert!(sentence.contains("LEDGERLINE_LOG"), "{sentence}");
}

#[test]
fn the_table_is_there_before_a_second_of_audio_has_passed() {
    alone(|folder| {
        let mut instance = BusInstance::new(&state_with_readings::<ClapHost>(), folder);
        let layout = Bus { rate_hz: f64::from(RATE_HZ), main: 2, side_chain: 0 };
        instance.audio.activate(layout, true);
        instance.play(&vec![vec![0.0; RATE_HZ as usize / 4]; 2]);
        let record = wait_for("a table", || {
            instance.boards.sum_test.latest().filter(|record| record.position_s > 0.0)
        });
        assert!((0.1..=0.25).contains(&record.position_s), "{} s", record.position_s);
        assert_eq!(instance.boards.sum_test.rate_hz(), Some(RATE_HZ));
    });
}

#[test]
fn the_desk_answers_without_a_window_and_without_audio() {
    alone(|folder| {
        let instance = BusInstance::new(&state_with_readings::<ClapHost>(), folder);
        let entries = instance.params.meter.entries();
        for resolution_db in [1.0, 0.5, 1.0] {
            let question =
                Question { rate_hz: RATE_HZ, entries: Entries { resolution_db, ..entries } };
            instance.desk.ask(question);
            let identified = wait_for("an answer", || {
                instance.desk.identified().filter(|identified| identified.question == question)
            });
            let meter = identified.result.as_ref().expect("a meter");
            assert_eq!(meter.models[0].detector, Detector::Programme2);
        }
    });
}
