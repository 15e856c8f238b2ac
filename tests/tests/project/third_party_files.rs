//! Files against NumPy: peak, RMS, correlation and their kin, worked out from the samples by a
//! library that the field uses.
//!
//! `cargo xtask test` makes the Python environment and runs these; by hand, `LEDGERLINE_PYTHON`
//! names a Python that has NumPy.

use std::path::Path;
use std::process::Command;

use ledgerline_tests::command::records;
use ledgerline_tests::folder::Folder;
use ledgerline_tests::signals::tone::{Sine, added, dc};
use ledgerline_tests::signals::{Stereo, ferry, noise};
use ledgerline_tests::wav;
use serde_json::Value;

/// Both sides work in double precision from the same 32-bit samples.
const TOLERANCE_DB: f64 = 1e-3;
const TOLERANCE_RATIO: f64 = 1e-6;

fn by_numpy(folder: &Folder, track: &Stereo) -> Value {
    let raw = folder.path("raw");
    let bytes: Vec<u8> =
        track.channels().concat().iter().flat_map(|sample| sample.to_le_bytes()).collect();
    std::fs::write(&raw, bytes).expect("the samples");
    let python = std::env::var_os("LEDGERLINE_PYTHON").expect("a Python with NumPy");
    let output = Command::new(python)
        .arg(Path::new(env!("CARGO_MANIFEST_DIR")).join("third_party/file_levels.py"))
        .args([&raw, "2"])
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
