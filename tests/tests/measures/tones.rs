//! Hidden tones beside what could be taken for one or spoil its level: neighbours, images, edges,
//! noise, movement. Oracle: what the signal is built of. What cannot be told within half a decibel
//! must not be told.

use std::f64::consts::TAU;

use ledgerline_measure::reading::Tone;
use ledgerline_measure::{Edges, Reading, RmsReference, Settings, View};
use ledgerline_tests::readings::{Checks, read, read_with};
use ledgerline_tests::signals::tone::{Sine, added, dc, silence};
use ledgerline_tests::signals::{Stereo, amplitude, frames, noise};

const BUILT: &str = "what the signal is built of";
const LENGTH_S: f64 = 8.0;
/// A level further off is not to be told.
const TOLERANCE_DB: f64 = 0.5;

fn sine(rate_hz: f64, hz: f64, rms_dbfs: f64) -> Vec<f32> {
    Sine::new(hz, amplitude(rms_dbfs + 3.0103)).at_phase(hz * 37.0).play(rate_hz, LENGTH_S)
}

fn mixed(rate_hz: f64, tones: &[(f64, f64)]) -> Stereo {
    let silence = silence(rate_hz, LENGTH_S);
    let play = |sum: Vec<f32>, &(hz, dbfs): &(f64, f64)| added(&sum, &sine(rate_hz, hz, dbfs));
    Stereo::both(rate_hz, tones.iter().fold(silence, play))
}

fn named(reading: &Reading) -> Vec<Tone> {
    reading.hidden.tones.as_slice().to_vec()
}

fn with_edges(low_hz: f64, high_hz: f64) -> Settings {
    Settings { edges: Edges::nearest(low_hz, high_hz), ..Settings::default() }
}

/// Each tone named has to be one of those played, at its level, or, where several lie within
/// `together_hz`, at their common level.
fn check_true(checks: &mut Checks, found: &[Tone], played: &[(f64, f64)], together_hz: f64) {
    for tone in found {
        let near = played.iter().filter(|(hz, _)| (hz - tone.hz).abs() <= together_hz);
        let power: f64 = near.clone().map(|(_, dbfs)| 10f64.powf(dbfs / 10.0)).sum();
        let mut levels = near.map(|&(_, dbfs)| dbfs).chain([10.0 * power.log10()]);
        let got = tone.dbfs.db().unwrap_or(f64::NAN);
        let is_true = levels.any(|dbfs| (got - dbfs).abs() <= TOLERANCE_DB);
        checks.that(is_true, &format!("a tone of {played:?}"), tone);
    }
}

#[test]
fn two_tones_that_the_window_parts_are_both_named_at_their_levels_the_stronger_first() {
    for (rate_hz, tones) in [
        (48_000.0, [(12.0, -30.0), (15.0, -36.0)]),
        (96_000.0, [(15.0, -30.0), (11.5, -45.0)]),
        (96_000.0, [(31_250.0, -50.0), (31_300.0, -50.2)]),
        (96_000.0, [(31_300.0, -30.0), (31_240.0, -60.0)]),
        (192_000.0, [(31_400.0, -40.0), (31_290.0, -44.0)]),
    ] {
        let with_audible = [tones[0], tones[1], (997.0, -20.0)];
        let reading = read(&mixed(rate_hz, &with_audible));
        let found = named(&reading);
        let mut checks = Checks::of(format!("{tones:?} at {rate_hz} Hz"), BUILT);
        checks.that(found.len() == 2, "two tones", &found);
        for (found, (hz, dbfs)) in found.iter().zip(tones) {
            checks.number("hz", Some(found.hz), hz, 0.02 + 3e-5 * hz);
            checks.level(&format!("{hz} Hz"), found.dbfs, dbfs, 0.1);
        }
    }
}

#[test]
fn closer_pairs_are_named_truly_or_not_at_all() {
    for (rate_hz, hz) in [(48_000.0, 11.3), (96_000.0, 31_000.0), (192_000.0, 50_000.0)] {
        let bin_hz = if hz < 100.0 { 0.73 } else { 11.72 * (rate_hz / 96_000.0) };
        for (step, apart) in [0.1, 0.35, 0.7, 1.0, 1.5, 2.0, 2.4, 3.0, 3.4, 3.9].iter().enumerate()
        {
            let weaker_dbfs = -30.0 - [0.0, 6.0, 20.0][step % 3];
            let tones = [(hz, -30.0), (hz + apart * bin_hz, weaker_dbfs)];
            let reading = read(&mixed(rate_hz, &tones));
            let mut checks = Checks::of(format!("{tones:?} at {rate_hz} Hz"), BUILT);
            let found = named(&reading);
            checks.that(found.len() <= 2, "no third tone", &found);
            check_true(&mut checks, &found, &tones, 1.5 * bin_hz);
        }
    }
}

#[test]
fn no_audible_tone_leaves_a_phantom_outside_the_band() {
    for (rate_hz, low_hz, hz) in [
        (48_000.0, 200.0, 553.0),
        (48_000.0, 200.0, 1_350.0),
        (44_100.0, 200.0, 1_400.0),
        (48_000.0, 20.0, 1_490.0),
        (48_000.0, 20.0, 1_512.0),
        (96_000.0, 120.0, 2_903.0),
        (192_000.0, 20.0, 20.1),
        (48_000.0, 20.0, 20.1),
        (48_000.0, 5.0, 5.3),
        (48_000.0, 200.0, 201.0),
    ] {
        let settings = with_edges(low_hz, 20_000.0);
        let found = named(&read_with(&mixed(rate_hz, &[(hz, -3.1)]), settings, &View::default()));
        let mut checks = Checks::of(format!("{hz} Hz at {rate_hz} Hz, from {low_hz} Hz"), BUILT);
        checks.that(found.is_empty(), "no tone", found);
    }
    for (rate_hz, high_hz, hz) in [
        (96_000.0, 20_000.0, 19_990.0),
        (192_000.0, 40_000.0, 39_900.0),
        (48_000.0, 5_000.0, 4_999.0),
    ] {
        let settings = with_edges(20.0, high_hz);
        let found = named(&read_with(&mixed(rate_hz, &[(hz, -3.1)]), settings, &View::default()));
        let mut checks = Checks::of(format!("{hz} Hz at {rate_hz} Hz, to {high_hz} Hz"), BUILT);
        checks.that(found.is_empty(), "no tone", found);
    }
}

#[test]
fn other_edges_name_what_lies_outside_them() {
    for (rate_hz, edges, tones) in [
        (48_000.0, (200.0, 5_000.0), [(8_000.0, -30.0), (150.0, -40.0)]),
        (44_100.0, (150.0, 15_000.0), [(18_000.0, -50.0), (50.0, -55.0)]),
        (192_000.0, (10.0, 40_000.0), [(60_000.0, -20.0), (6.0, -40.0)]),
    ] {
        let settings = with_edges(edges.0, edges.1);
        let all = [tones[0], tones[1], (997.0, -12.0)];
        let found = named(&read_with(&mixed(rate_hz, &all), settings, &View::default()));
        let mut checks = Checks::of(format!("{tones:?} at {rate_hz} Hz, {edges:?}"), BUILT);
        checks.that(found.len() == 2, "two tones", &found);
        for (found, (hz, dbfs)) in found.iter().zip(tones) {
            checks.number("hz", Some(found.hz), hz, 0.1 + 3e-5 * hz);
            checks.level(&format!("{hz} Hz"), found.dbfs, dbfs, 0.1);
        }
    }
}

#[test]
fn what_moves_or_hides_in_noise_gets_no_false_level() {
    let rate_hz = 96_000.0;
    let count = frames(rate_hz, LENGTH_S);
    let whistle = |phase: &dyn Fn(f64) -> f64, gain: &dyn Fn(f64) -> f64| -> Vec<f32> {
        let at = |n: usize| n as f64 / rate_hz;
        let value = |t: f64| amplitude(-27.0) * gain(t) * (TAU * phase(t).fract()).sin();
        (0..count).map(|n| value(at(n)) as f32).collect()
    };
    let steady = |_: f64| 1.0;
    // Mean square of a gain of 1 + m·sin: 1 + m²/2.
    let moving = [
        ("drifts by 3 Hz", whistle(&|t| 31_000.0 * t + 0.19 * t * t, &steady), 0.0),
        ("drifts by 200 Hz", whistle(&|t| 31_000.0 * t + 12.5 * t * t, &steady), 0.0),
        ("wavers at 6 Hz", whistle(&|t| 31_000.0 * t + 3.0 * (TAU * 6.0 * t).sin(), &steady), 0.0),
        (
            "swells at 0.5 Hz",
            whistle(&|t| 31_000.0 * t, &|t| 1.0 + 0.5 * (TAU * t / 2.0).sin()),
            0.51,
        ),
        (
            "throbs at 11.7 Hz",
            whistle(&|t| 31_000.0 * t, &|t| 1.0 + 0.9 * (TAU * 11.72 * t).sin()),
            1.48,
        ),
        (
            "throbs at 25 Hz",
            whistle(&|t| 31_000.0 * t, &|t| 1.0 + 0.9 * (TAU * 25.0 * t).sin()),
            1.48,
        ),
    ];
    for (name, signal, more_db) in moving {
        let mut checks = Checks::of(name, BUILT);
        for tone in named(&read(&Stereo::both(rate_hz, signal))) {
            let got = tone.dbfs.db().unwrap_or(f64::NAN);
            let is_true =
                (got + 30.01).abs() < TOLERANCE_DB || (got + 30.01 - more_db).abs() < TOLERANCE_DB;
            checks.that(is_true, "its own level or its carrier's", tone);
        }
        checks.that(true, "no more", ());
    }
    for seed in 0..6 {
        // A tone little above the noise around it, and DC beside rumble that rises towards 0 Hz.
        let hiss = noise::white_gaussian(300 + seed, amplitude(-50.0), count);
        let mut brown = 0.0f64;
        let rumble: Vec<f32> = noise::white_gaussian(400 + seed, 1.0, count)
            .iter()
            .map(|x| {
                brown = 0.999_9 * brown + f64::from(*x);
                (0.000_3 * brown) as f32
            })
            .collect();
        let above = (31_000.0 + 3.3 * seed as f64, -72.0 + 2.0 * seed as f64);
        let below = (8.0 + seed as f64, -62.0 + 5.0 * seed as f64);
        let all = mixed(rate_hz, &[above, below]).left;
        let all = added(&added(&all, &hiss), &added(&rumble, &dc(rate_hz, 0.05, LENGTH_S)));
        let found = named(&read(&Stereo::both(rate_hz, all)));
        let mut checks = Checks::of(format!("{above:?}, {below:?} in noise and DC"), BUILT);
        check_true(&mut checks, &found, &[above, below], 1.0);
        checks.that(found.len() <= 2, "no more", found);
    }
}

#[test]
fn tones_follow_the_rms_reference() {
    let signal = mixed(96_000.0, &[(31_000.0, -40.0), (997.0, -20.0)]);
    let view = View { rms_reference: RmsReference::FullScaleSine, ..View::default() };
    let reading = read_with(&signal, Settings::default(), &view);
    let mut checks = Checks::of("31 kHz at −40 dBFS, referred to a sine", "AES17: 3.01 dB more");
    checks.level("tone", reading.hidden.tones.as_slice()[0].dbfs, -36.9897, 0.02);
    checks.level("above", reading.hidden.above_dbfs, -36.9897, 0.02);
}
