//! The VST3 bundle in a host that nobody here wrote: `pedalboard` from PyPI.
//!
//! `cargo xtask test` makes the Python environment and runs these; by hand, `LEDGERLINE_PYTHON`
//! names a Python that has it, and `LEDGERLINE_BUNDLES` the folder of the bundles.

use std::path::Path;
use std::process::Command;

use ledgerline_measure::{Halves, Meter, Settings};
use ledgerline_tests::alone::LOG_VARIABLE;
use ledgerline_tests::built::BuiltFor;
use ledgerline_tests::folder::Folder;
use ledgerline_tests::hosts::Vst3Host;
use ledgerline_tests::journal::{assert_same, last_reading, logged_by};
use ledgerline_tests::signals::noise;
use serde_json::Value;

/// What came of a run of the other host.
struct Run {
    output: Vec<Vec<f32>>,
    reading: Value,
    shown: Value,
}

/// Plays `input` in the other host, with a log folder of its own.
fn play(input: &[Vec<f32>], rate_hz: u32, block_frames: usize) -> Run {
    let folder = Folder::new("third-party");
    let log = folder.join("log");
    std::fs::create_dir_all(&log).expect("a log folder");
    let (source, target) = (folder.join("input"), folder.join("output"));
    let bytes: Vec<u8> = input.iter().flatten().flat_map(|sample| sample.to_le_bytes()).collect();
    std::fs::write(&source, bytes).expect("the input");
    let python = std::env::var_os("LEDGERLINE_PYTHON").expect("a Python with the host");
    let output = Command::new(python)
        .arg(Path::new(env!("CARGO_MANIFEST_DIR")).join("third_party/vst3_host.py"))
        .args([&Vst3Host::built(), &source, &target])
        .args([input.len(), rate_hz as usize, block_frames].map(|number| number.to_string()))
        .env(LOG_VARIABLE, &log)
        .output()
        .expect("the host starts");
    let printed = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    assert!(output.status.success(), "{}\n{}", output.status, printed(&output.stderr));
    let bytes = std::fs::read(&target).expect("the output");
    let samples: Vec<f32> = bytes
        .chunks_exact(4)
        .map(|bytes| f32::from_le_bytes(bytes.try_into().expect("four bytes")))
        .collect();
    Run {
        output: samples.chunks(input[0].len()).map(<[f32]>::to_vec).collect(),
        reading: last_reading(&log),
        shown: serde_json::from_slice(&output.stdout).expect("what the host shows"),
    }
}

fn noises(channels: u64, rate_hz: u32) -> Vec<Vec<f32>> {
    let frames = 2 * rate_hz as usize + 123;
    (0..channels).map(|channel| noise::white(900 + channel, 0.5, frames)).collect()
}

fn assert_passes_and_reads(channels: u64, rate_hz: u32, block_frames: usize) {
    let input = noises(channels, rate_hz);
    let run = play(&input, rate_hz, block_frames);
    assert!(run.output == input, "the audio changed at {rate_hz} Hz, blocks of {block_frames}");

    let halves = if channels == 1 { Halves::Mono } else { Halves::LeftRight };
    let settings = Settings { halves, ..Settings::default() };
    let mut meter =
        Meter::new(f64::from(rate_hz), input.len(), 0, settings).expect("a rate to measure");
    meter.process(&input.iter().map(Vec::as_slice).collect::<Vec<_>>(), &[]);
    meter.finish();
    assert_same(&run.reading, &logged_by(&meter));
}

#[test]
#[ignore = "needs a third-party host; cargo xtask test runs it"]
fn stereo_passes_and_reads_the_same_at_every_rate() {
    for rate_hz in [44_100, 48_000, 96_000, 192_000] {
        assert_passes_and_reads(2, rate_hz, 512);
    }
}

#[test]
#[ignore = "needs a third-party host; cargo xtask test runs it"]
fn mono_passes_and_reads_the_same() {
    assert_passes_and_reads(1, 48_000, 512);
}

#[test]
#[ignore = "needs a third-party host; cargo xtask test runs it"]
fn short_and_long_blocks_pass_and_read_the_same() {
    for block_frames in [1, 64, 1000, 8192] {
        assert_passes_and_reads(2, 48_000, block_frames);
    }
}

#[test]
#[ignore = "needs a third-party host; cargo xtask test runs it"]
fn the_host_sees_an_effect_without_latency_that_keeps_its_state() {
    let shown = play(&noises(2, 48_000), 48_000, 512).shown;
    assert_eq!(shown["name"], "Ledgerline");
    assert_eq!(shown["manufacturer"], "Ledgerline");
    assert_eq!(shown["is_effect"], true);
    assert_eq!(shown["latency_frames"], 0);
    assert_eq!(shown["state_survives"], true);
    let parameters = shown["parameters"].as_array().expect("the parameters");
    for name in ["target", "ceiling_db", "listen", "bypass"] {
        assert!(parameters.iter().any(|shown| *shown == name), "no {name} in {parameters:?}");
    }
}
