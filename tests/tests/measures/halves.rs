//! What the halves are: left and right, main and side-chain, or one channel alone.

use ledgerline_measure::{Halves, Meter, Reading, Settings, View};
use ledgerline_tests::formulas::{correlation, rms_dbfs};
use ledgerline_tests::readings::{Checks, read};
use ledgerline_tests::signals::tone::{added, scaled};
use ledgerline_tests::signals::{Stereo, noise};

const RATE_HZ: f64 = 48_000.0;
const SOURCE: &str = "sums in f64";

fn read_layout(halves: Halves, main: &[&[f32]], side_chain: &[&[f32]]) -> Reading {
    let settings = Settings { halves, ..Settings::default() };
    let mut meter = Meter::new(RATE_HZ, main.len(), side_chain.len(), settings)
        .expect("a layout that has halves");
    meter.process(main, side_chain);
    meter.finish();
    meter.reading(&View::default())
}

fn four_noises() -> [Vec<f32>; 4] {
    [0.1, 0.2, 0.05, 0.15].map(|rms| noise::white_gaussian((rms * 1000.0) as u64, rms, 4 * 48_000))
}

#[test]
fn main_and_side_chain_are_two_stereo_halves() {
    let [ml, mr, sl, sr] = four_noises();
    let reading = read_layout(Halves::MainSidechain, &[&ml, &mr], &[&sl, &sr]);
    let whole = &reading.whole;
    let (main, side) = ([ml.clone(), mr.clone()].concat(), [sl.clone(), sr.clone()].concat());
    let sum = [added(&ml, &sl), added(&mr, &sr)].concat();
    let mut checks = Checks::of("four noises, main and side-chain", SOURCE);
    checks.level("A", whole.a.rms_dbfs, rms_dbfs(&main), 0.001);
    checks.level("B", whole.b.rms_dbfs, rms_dbfs(&side), 0.001);
    checks.level("sum", whole.sum.rms_dbfs, rms_dbfs(&sum), 0.001);
    let both = [main.clone(), side.clone()].concat();
    checks.level("bus", whole.bus.rms_dbfs, rms_dbfs(&both), 0.001);
    checks.number("correlation", whole.halves.correlation, correlation(&main, &side), 1e-5);
    // The loudness of a stereo half is that of a stereo bus with the same channels.
    let alone = read(&Stereo::new(RATE_HZ, ml, mr)).whole.bus;
    let expected = alone.integrated_lufs.db().unwrap_or(f64::NAN);
    checks.level("loudness of A", whole.a.integrated_lufs, expected, 0.001);
    let expected = alone.true_peak_dbtp.db().unwrap_or(f64::NAN);
    checks.level("true peak of A", whole.a.true_peak_dbtp, expected, 0.001);
}

#[test]
fn identical_main_and_side_chain_add_6_db_and_reversed_ones_cancel() {
    let [ml, mr, ..] = four_noises();
    let mut checks = Checks::of("main in the side-chain", "exact arithmetic");
    let same = read_layout(Halves::MainSidechain, &[&ml, &mr], &[&ml, &mr]);
    checks.level("sum gain", same.whole.halves.sum_gain_energy_db, 3.0103, 0.001);
    checks.level("null", same.whole.halves.null_dbfs, f64::NEG_INFINITY, 0.0);
    let (rl, rr) = (scaled(&ml, -1.0), scaled(&mr, -1.0));
    let reversed = read_layout(Halves::MainSidechain, &[&ml, &mr], &[&rl, &rr]);
    for band in [&reversed.whole, &reversed.audible] {
        checks.level("reversed sum", band.sum.rms_dbfs, f64::NEG_INFINITY, 0.0);
        checks.level("reversed sum", band.sum.integrated_lufs, f64::NEG_INFINITY, 0.0);
    }
}

#[test]
fn one_channel_is_half_a_and_there_is_no_b() {
    let [mono, ..] = four_noises();
    let reading = read_layout(Halves::Mono, &[&mono], &[]);
    let as_left = read(&Stereo::new(RATE_HZ, mono.clone(), vec![0.0; mono.len()]));
    let mut checks = Checks::of("noise in one channel", "the same as half A of a stereo bus");
    for (name, mono, stereo) in
        [("whole", &reading.whole, &as_left.whole), ("audible", &reading.audible, &as_left.audible)]
    {
        for (of, levels) in [("a", &mono.a), ("bus", &mono.bus)] {
            for (what, got, expected) in [
                ("RMS", levels.rms_dbfs, stereo.a.rms_dbfs),
                ("sample peak", levels.sample_peak_dbfs, stereo.a.sample_peak_dbfs),
                ("true peak", levels.true_peak_dbtp, stereo.a.true_peak_dbtp),
                ("integrated", levels.integrated_lufs, stereo.a.integrated_lufs),
            ] {
                let expected = expected.db().unwrap_or(f64::NAN);
                checks.level(&format!("{name} {of} {what}"), got, expected, 0.001);
            }
        }
        checks.none(&format!("{name} b"), mono.b.rms_dbfs);
        checks.none(&format!("{name} sum"), mono.sum.rms_dbfs);
        checks.that(mono.halves.correlation.is_none(), "no correlation", mono.halves.correlation);
        checks.none(&format!("{name} null"), mono.halves.null_dbfs);
    }
}

#[test]
fn left_and_right_ignore_the_side_chain() {
    let [l, r, s, _] = four_noises();
    let with = read_layout(Halves::LeftRight, &[&l, &r], &[&s, &s]);
    let without = read_layout(Halves::LeftRight, &[&l, &r], &[]);
    let record = |reading: &Reading| serde_json::to_string(reading).expect("can be written");
    let mut checks = Checks::of("left and right beside a side-chain", "the same without it");
    checks.that(record(&with) == record(&without), &record(&without), record(&with));
}
