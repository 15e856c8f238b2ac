//! Files against NumPy: peak, RMS, correlation and their kin, worked out from the samples by a
//! library that the field uses.
//!
//! `cargo xtask test` makes the Python environment and runs these; by hand, `LEDGERLINE_PYTHON`
//! names a Python that has NumPy.

use std::path::Path;
use std::process::Command;

use ledgerline_tests::command::records;
use ledgerline_tests::folder::Folder;
use ledgerline_tests::signals::switching::{Kind, Panning, Sources, Switching};
use ledgerline_tests::signals::tone::{Sine, added, dc};
use ledgerline_tests::signals::{Stereo, ferry, noise};
use ledgerline_tests::wav;
use serde_json::Value;

/// Both sides work in double precision from the same 32-bit samples.
const TOLERANCE_DB: f64 = 1e-3;
const TOLERANCE_RATIO: f64 = 1e-6;

fn by_numpy(folder: &Folder, track: &Stereo) -> Value {
    let rate_hz = track.rate_hz.to_string();
    run_numpy(folder, "file_levels.py", &track.channels().concat(), &["2", &rate_hz])
}

/// What a script says of samples, with further arguments.
fn run_numpy(folder: &Folder, script: &str, samples: &[f32], arguments: &[&str]) -> Value {
    let raw = folder.path("raw");
    let bytes: Vec<u8> = samples.iter().flat_map(|sample| sample.to_le_bytes()).collect();
    std::fs::write(&raw, bytes).expect("the samples");
    let python = std::env::var_os("LEDGERLINE_PYTHON").expect("a Python with NumPy");
    let output = Command::new(python)
        .arg(Path::new(env!("CARGO_MANIFEST_DIR")).join("third_party").join(script))
        .arg(&raw)
        .args(arguments)
        .output()
        .expect("Python starts");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).expect("JSON")
}

#[test]
#[ignore = "needs a Python with NumPy: cargo xtask test makes one"]
fn levels_and_correlation_are_those_that_numpy_works_out() {
    let folder = Folder::new("numpy");
    let noises = |rate_hz, seed| {
        let white = |seed| noise::white(seed, 0.3, 100_000);
        Stereo::new(rate_hz, white(seed), added(&white(seed), &white(seed + 1)))
    };
    let offset = |track: Stereo| {
        let length_s = track.frames() as f64 / track.rate_hz;
        let left = added(&track.left, &dc(track.rate_hz, 0.125, length_s));
        Stereo { left, ..track }
    };
    let tone = |hz| Sine::new(hz, 0.7).play(44_100.0, 3.0);
    let tracks = [
        ferry::play().cut(960_000..1_440_000),
        noises(48_000.0, 5),
        offset(noises(192_000.0, 9)),
        Stereo::new(44_100.0, tone(997.0), tone(1003.0)),
    ];
    for (index, track) in tracks.iter().enumerate() {
        let path = folder.path("track.wav");
        wav::write(&path, track.rate_hz as u32, &track.channels());
        let ours = &records(&["read", &path]).1[0]["reading"];
        let numpy = by_numpy(&folder, track);
        let check = |what: &str, ours: &Value, numpy: &Value, tolerance: f64| {
            let [ours, numpy] = [ours, numpy].map(|value| value.as_f64().expect(what));
            assert!((ours - numpy).abs() <= tolerance, "track {index}, {what}: {ours}, {numpy}");
        };
        for signal in ["a", "b", "sum", "bus"] {
            for level in ["sample_peak_dbfs", "rms_dbfs"] {
                let what = format!("{level} of {signal}");
                check(&what, &ours["whole"][signal][level], &numpy[signal][level], TOLERANCE_DB);
            }
        }
        let halves = &ours["whole"]["halves"];
        check(
            "correlation",
            &halves["correlation"],
            &numpy["halves"]["correlation"],
            TOLERANCE_RATIO,
        );
        for level in ["sum_gain_energy_db", "null_dbfs", "level_difference_db"] {
            check(level, &halves[level], &numpy["halves"][level], TOLERANCE_DB);
        }
        if index == 2 {
            check("dc_dbfs", &ours["hidden"]["dc_dbfs"], &numpy["dc_dbfs"], TOLERANCE_DB);
        }
    }
}

#[test]
#[ignore = "needs a Python with NumPy: cargo xtask test makes one"]
fn what_changed_between_two_entries_is_what_numpy_works_out() {
    let folder = Folder::new("numpy-entries");
    for (kind, sources) in [
        (Kind::Uniform, [Sources::Same, Sources::Copy(0.05, 0.0)]),
        (Kind::Pink, [Sources::Alone(0.0), Sources::Copy(0.011, -3.0)]),
        (Kind::Uniform, [Sources::Same, Sources::Independent]),
    ] {
        let switching =
            Switching { kind, peak_dbfs: -16.0, rate_hz: 48_000.0, each_s: 6.0, states: &sources };
        let track = switching.play(Panning::Middle);
        let path = folder.path("switched.wav");
        wav::write(&path, 48_000, &track.channels());
        let entries = &records(&["read", &path, "--entries"]).1[0]["entries"];
        let change = &entries[1]["change"];
        let numpy = run_numpy(&folder, "switched.py", &track.left, &["48000"]);
        let number = |value: &Value| value.as_f64().expect("a number");
        let bus = &change["whole"]["bus"];
        // Not quite the same stretches: what chance makes of that, for pink noise more.
        let within_db = if kind == Kind::Pink { 0.4 } else { 0.05 };
        let difference = number(&bus["rms"]) - number(&numpy["rms_db"]);
        assert!(difference.abs() <= within_db, "{kind:?} {sources:?}: RMS off by {difference} dB");
        if kind == Kind::Uniform {
            let difference = number(&bus["sample_peak"]) - number(&numpy["sample_peak_db"]);
            assert!(difference.abs() <= 0.1, "{sources:?}: peak off by {difference} dB");
            // Uniform noise has a kurtosis of 9/5, the sum of two 12/5 (closed form).
            let [before, after] = [0, 1].map(|index| number(&numpy["kurtosis"][index]));
            assert!((before - 1.8).abs() < 0.02 && (after - 2.4).abs() < 0.02);
        }
        match change["copy"].as_object() {
            Some(copy) => {
                let off = number(&copy["delay_ms"]) - number(&numpy["delay_ms"]);
                assert!(off.abs() <= 0.05, "{kind:?} {sources:?}: delay off by {off} ms");
            }
            None => assert_eq!(change["what"], "decorrelated"),
        }
    }
}

/// NumPy takes the autocorrelation of all that there is, `read` the mean of some transforms, and both
/// scatter by chance. On white noise the edge is steep; NumPy tells it to an eighth of a sample.
#[test]
#[ignore = "needs a Python with NumPy: cargo xtask test makes one"]
fn the_decorrelation_time_is_where_numpy_s_autocorrelation_last_reaches_a_tenth() {
    let folder = Folder::new("numpy-delay");
    let rate_hz = 48_000.0;
    let of = |make: &dyn Fn(u64) -> Vec<f32>| Stereo::new(rate_hz, make(21), make(22));
    let white = of(&|seed| noise::white(seed, 0.3, 960_000));
    let pink = of(&|seed| noise::pink(seed, 0.1, rate_hz, 960_000));
    for (name, track, tolerance) in [("white", white, 0.05), ("pink", pink, 0.15)] {
        let path = folder.path("track.wav");
        wav::write(&path, rate_hz as u32, &track.channels());
        let ours = &records(&["read", &path]).1[0]["reading"]["decorrelation_ms"];
        let numpy = &by_numpy(&folder, &track)["last_delay_ms"];
        for band in ["whole", "audible"] {
            let [ours, numpy] = [ours, numpy].map(|times| times[band].as_f64().expect(band));
            println!("{name}, {band}: {ours} ms, NumPy {numpy} ms");
            assert!((ours / numpy - 1.0).abs() <= tolerance, "{name}, {band}: {ours}, {numpy}");
        }
    }
}
