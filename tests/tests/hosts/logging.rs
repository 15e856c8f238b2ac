//! The log's files and lines.

use std::path::Path;

use ledgerline_measure::Settings;
use ledgerline_tests::alone::{Environment, LOG_VARIABLE, alone_with};
use ledgerline_tests::built::BuiltFor;
use ledgerline_tests::command::records;
use ledgerline_tests::hosts::{Change, ClapHost, Host, Layout, Setup, Take, Vst3Host};
use ledgerline_tests::journal::{
    assert_same, files, last_reading, last_reading_of, lines, logged_by, of_schema,
};
use serde_json::{Value, json};

use crate::material::{assert_same_bits, noises};
use crate::readings::{measure, meter};

fn a_row_is_written_each_second_and_a_reading_at_the_stop<H: BuiltFor>(folder: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
    host.play(&Take::new(&noises(2, 168_000, 30))).expect("audio");
    host.deactivate();
    let lines = lines(&files(folder)[0]);
    let schemas: Vec<&str> =
        lines.iter().map(|line| line["schema"].as_str().expect("a schema")).collect();
    let row = "ledgerline.row/1";
    // The entry ends when the instance is deactivated, after processing has stopped.
    let (entries, others): (Vec<_>, Vec<_>) =
        schemas.into_iter().partition(|schema| *schema == "ledgerline.entry/1");
    assert_eq!(entries.len(), 1);
    assert_eq!(others, ["ledgerline.log/1", row, row, row, "ledgerline.reading/1"]);
    let lines: Vec<&Value> =
        lines.iter().filter(|line| line["schema"] != "ledgerline.entry/1").collect();
    let times_s: Vec<f64> =
        lines[1..].iter().map(|line| line["time_s"].as_f64().expect("a time")).collect();
    // What is read lags behind what came by the delay of the audible band's filter.
    for (second, time_s) in [1.0, 2.0, 3.0].into_iter().zip(&times_s) {
        assert!((second - 0.25..=second).contains(time_s), "{times_s:?}");
    }
    let apart_s = |index: usize| times_s[index + 1] - times_s[index];
    assert!((apart_s(0) - 1.0).abs() < 1e-9 && (apart_s(1) - 1.0).abs() < 1e-9, "{times_s:?}");
    assert_eq!(times_s[3], 3.5);
    let host_s: Vec<f64> =
        lines[1..4].iter().map(|line| line["host_s"].as_f64().expect("a place")).collect();
    assert_eq!(host_s, [1.0, 2.0, 3.0], "the transport began at 0");
}

/// The rows' numbers are those of a reading at that moment, under the names of the first line.
fn a_row_says_what_a_reading_would_say<H: BuiltFor>(folder: &Path) {
    let take = noises(2, 96_000, 36);
    let mut host = H::load(&H::built()).expect("the plugin");
    host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
    host.play(&Take::new(&take)).expect("audio");
    host.deactivate();
    let lines = lines(&files(folder)[0]);
    let row = &of_schema(&lines, "ledgerline.row/1")[1];
    let mut meter = meter(48_000.0, Layout::Stereo, Settings::default());
    measure(&mut meter, &take, &[]);
    let reading = logged_by(&meter);
    let names = lines[0]["row"].as_object().expect("names of keys");
    assert!(names.len() > 20, "{names:?}");
    for (key, place) in names {
        let place = place.as_str().expect("a place");
        // Nobody has said which meter is the user's own.
        let none = place.strip_prefix("/your_meter/").map(|_| &reading["your_meter"]);
        let exact = &reading.pointer(place).or(none).expect("a reading");
        match (exact.as_f64(), row[key].as_f64()) {
            (Some(exact), Some(row)) => assert!((exact - row).abs() <= 0.005 + 1e-9, "{place}"),
            _ => assert_eq!(**exact, row[key], "{place}"),
        }
    }
}

/// What the command makes of a log is what the instance measured.
fn the_command_sums_a_log_up<H: BuiltFor>(folder: &Path) {
    let take: Vec<Vec<f32>> =
        noises(2, 168_000, 38).iter().map(|x| x.iter().map(|x| 6.0 * x).collect()).collect();
    let mut host = H::load(&H::built()).expect("the plugin");
    host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
    host.play(&Take::new(&take)).expect("audio");
    host.deactivate();
    let mut meter = meter(48_000.0, Layout::Stereo, Settings::default());
    measure(&mut meter, &take, &[]);
    meter.finish();
    let reading = logged_by(&meter);
    let path = files(folder)[0].display().to_string();
    let (_, records) = records(&["read", &path]);
    let record = &records[0];
    assert_eq!(
        (&record["schema"], &record["warnings"]),
        (&json!("ledgerline.session/1"), &json!([]))
    );
    assert!((record["measured_s"].as_f64().expect("seconds") - 3.5).abs() < 1e-6);
    assert_eq!((&record["host_start_s"], &record["host_end_s"]), (&json!(1.0), &json!(3.0)));
    assert!(reading["whole"]["bus"]["overs"].as_u64() > Some(0), "{take:?}");
    assert_eq!(record["overs"], reading["whole"]["bus"]["overs"]);
    for (band, key) in [
        ("whole", "sample_peak_dbfs"),
        ("whole", "true_peak_dbtp"),
        ("audible", "sample_peak_dbfs"),
        ("audible", "true_peak_dbtp"),
    ] {
        // Of rows, which are rounded, and the full reading the highest.
        let [summed, read] =
            [&record[band][key], &reading[band]["bus"][key]].map(|level| level.as_f64());
        let above = summed.zip(read).map(|(summed, read)| summed - read);
        assert!(above.is_some_and(|db| (0.0..=0.005).contains(&db)), "{band} {key}: {above:?}");
    }
    for band in ["whole", "audible"] {
        let highest = &reading["windows"][band]["bus"]["momentary_max_lufs"];
        let above = record[band]["momentary_max_lufs"].as_f64().zip(highest.as_f64());
        assert!(above.is_some_and(|(summed, read)| (0.0..=0.005).contains(&(summed - read))));
        let integrated = &record["stretches"][0][band]["integrated_lufs"];
        assert_eq!(*integrated, reading[band]["bus"]["integrated_lufs"]);
    }
    let findings = |of: &Value| -> Vec<Value> {
        of["findings"]
            .as_array()
            .expect("a list")
            .iter()
            .map(|found| found["sentence"].clone())
            .collect()
    };
    assert_eq!(findings(record), findings(&reading));
}

fn two_instances_at_once_write_a_file_each<H: BuiltFor>(folder: &Path) {
    let setup = Setup::new(48_000.0, Layout::Stereo);
    let takes = [noises(2, 90_000, 31), noises(2, 70_000, 32)];
    let mut hosts: Vec<H> =
        takes.iter().map(|_| H::load(&H::built()).expect("the plugin")).collect();
    for host in &mut hosts {
        host.activate(setup).expect("activation");
    }
    for (host, take) in hosts.iter_mut().zip(&takes) {
        let output = host.play(&Take::new(take)).expect("audio");
        assert_same_bits(&output, take, "two instances");
    }
    for host in &mut hosts {
        host.deactivate();
    }
    let files = files(folder);
    assert_eq!(files.len(), 2, "{files:?}");
    for (file, take) in files.iter().zip(&takes) {
        let mut meter = meter(48_000.0, Layout::Stereo, Settings::default());
        measure(&mut meter, take, &[]);
        meter.finish();
        assert_same(&last_reading_of(file), &logged_by(&meter));
    }
}

fn an_instance_that_is_dropped_while_it_plays_leaves_a_whole_log<H: BuiltFor>(folder: &Path) {
    let take = noises(2, 60_000, 33);
    let mut host = H::load(&H::built()).expect("the plugin");
    host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
    host.play(&Take::new(&take)).expect("audio");
    drop(host);
    let mut meter = meter(48_000.0, Layout::Stereo, Settings::default());
    measure(&mut meter, &take, &[]);
    meter.finish();
    assert_same(&last_reading(folder), &logged_by(&meter));
}

in_both_formats!(
    a_row_is_written_each_second_and_a_reading_at_the_stop,
    a_row_says_what_a_reading_would_say,
    the_command_sums_a_log_up,
    two_instances_at_once_write_a_file_each,
    an_instance_that_is_dropped_while_it_plays_leaves_a_whole_log,
);

/// A folder below a file cannot be made by anybody.
fn unwritable(folder: &Path) -> Environment {
    std::fs::write(folder.join("file"), "").expect("a file");
    vec![(LOG_VARIABLE, Some(folder.join("file").join("log")))]
}

fn audio_passes_without_a_log<H: BuiltFor>(folder: &Path) {
    let take = noises(2, 100_000, 34);
    let mut host = H::load(&H::built()).expect("the plugin");
    host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
    let output = host.play(&Take::new(&take)).expect("audio");
    assert_same_bits(&output, &take, "a log that cannot be written");
    host.deactivate();
    assert_eq!(files(folder), Vec::<std::path::PathBuf>::new());
}

#[test]
#[allow(clippy::redundant_closure, reason = "the closure's type names the test")]
fn clap_passes_audio_when_the_log_folder_cannot_be_written() {
    alone_with(unwritable, |folder| audio_passes_without_a_log::<ClapHost>(folder));
}

#[test]
#[allow(clippy::redundant_closure, reason = "the closure's type names the test")]
fn vst3_passes_audio_when_the_log_folder_cannot_be_written() {
    alone_with(unwritable, |folder| audio_passes_without_a_log::<Vst3Host>(folder));
}

/// No log folder named, and the folder of the user's data in the test's own.
fn own_data_folder(folder: &Path) -> Environment {
    let folder = || Some(folder.to_path_buf());
    vec![(LOG_VARIABLE, None), ("HOME", folder()), ("XDG_DATA_HOME", folder())]
}

#[test]
#[cfg(target_os = "linux")]
fn nothing_is_logged_until_the_log_switch_is_on() {
    alone_with(own_data_folder, |folder| {
        let log = folder.join("Ledgerline").join("log");
        let take = noises(2, 60_000, 35);
        let mut host = ClapHost::load(&ClapHost::built()).expect("the plugin");
        let setup = Setup::new(48_000.0, Layout::Stereo);
        host.activate(setup).expect("activation");
        host.play(&Take::new(&take)).expect("audio");
        host.deactivate();
        assert!(!log.exists(), "{} is there though nobody asked for it", log.display());

        host.set("log", 1.0);
        host.activate(setup).expect("activation");
        host.play(&Take::new(&take)).expect("audio");
        host.deactivate();
        let mut meter = meter(48_000.0, Layout::Stereo, Settings::default());
        measure(&mut meter, &take, &[]);
        meter.pause();
        measure(&mut meter, &take, &[]);
        meter.finish();
        assert_eq!(last_reading(&log)["time_s"], logged_by(&meter)["time_s"]);
    });
}

#[test]
#[cfg(target_os = "linux")]
fn switched_off_while_it_plays_the_log_ends_with_a_reading() {
    alone_with(own_data_folder, |folder| {
        let take = noises(2, 120_000, 37);
        let mut host = ClapHost::load(&ClapHost::built()).expect("the plugin");
        host.set("log", 1.0);
        host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
        let off = [Change { at_frame: 72_192, id: "log", value: 0.0 }];
        host.play(&Take::new(&take).with_changes(&off)).expect("audio");
        host.deactivate();
        let lines = lines(&files(&folder.join("Ledgerline").join("log"))[0]);
        let schemas: Vec<&str> =
            lines.iter().map(|line| line["schema"].as_str().expect("a schema")).collect();
        assert_eq!(schemas, ["ledgerline.log/1", "ledgerline.row/1", "ledgerline.reading/1"]);
        let time_s = lines[2]["time_s"].as_f64().expect("a time");
        assert!((1.25..=1.504).contains(&time_s), "{time_s} s");
    });
}
