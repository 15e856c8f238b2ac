//! Causes: prices that add up to the room withheld, what each filter alone would do, and since when.

use ledgerline_measure::causes::{Cause, CauseCode};
use ledgerline_measure::{Reading, Settings, Target, View};
use ledgerline_tests::formulas::fourier;
use ledgerline_tests::readings::{Checks, feed, feed_by, read, read_with, stereo_meter};
use ledgerline_tests::signals::tone::{Sine, added, scaled};
use ledgerline_tests::signals::{Stereo, amplitude, bench_mix, frames, noise};

const RATE_HZ: f64 = 96_000.0;

fn cause(reading: &Reading, code: CauseCode) -> Option<Cause> {
    reading.causes.iter().find(|cause| cause.code == code).copied()
}

fn tone(hz: f64, peak_dbfs: f64, length_s: f64) -> Vec<f32> {
    Sine::new(hz, amplitude(peak_dbfs)).faded(RATE_HZ, length_s, 0.5)
}

/// 1 kHz under a tone above the band and one below it, whose crests meet now and then.
fn three_tones() -> Stereo {
    let tones = [(1000.0, -12.0), (31_007.3, -18.0), (7.0, -20.0)];
    let mut sum = vec![0.0; frames(RATE_HZ, 20.0)];
    for (hz, level) in tones {
        sum = added(&sum, &tone(hz, level, 20.0));
    }
    Stereo::both(RATE_HZ, sum)
}

#[test]
fn prices_are_those_of_the_tones_amplitudes() {
    let reading = read(&three_tones());
    let [audible, above, below] = [-12.0, -18.0, -20.0].map(amplitude);
    let db = |ratio: f64| 20.0 * ratio.log10();
    let all = audible + above + below;
    let mut checks = Checks::of("three tones", "closed form: amplitudes that meet add");
    for (code, price_db, alone_db, tone_hz) in [
        (CauseCode::InterSample, 0.0, 0.0, None),
        (
            CauseCode::Above,
            db(all / (audible + below)),
            db(all / (audible + below)),
            Some(31_007.3),
        ),
        (CauseCode::Below, db((audible + below) / audible), db(all / (audible + above)), Some(7.0)),
    ] {
        let found = cause(&reading, code);
        checks.number(&format!("{code:?}"), found.map(|c| c.price_db), price_db, 0.04);
        checks.number(&format!("{code:?} alone"), found.map(|c| c.alone_db), alone_db, 0.04);
        match (tone_hz, found.and_then(|cause| cause.tone_hz)) {
            (Some(hz), found) => checks.number(&format!("{code:?}, tone"), found, hz, 0.5),
            (None, found) => checks.that(found.is_none(), "no tone", found),
        }
    }
}

#[test]
fn prices_add_up_to_what_is_withheld_to_the_last_digit() {
    let noises = |rate_hz: f64, seed| {
        let [left, right] = [seed, seed + 1].map(|s| noise::pink(s, 0.1, rate_hz, 200_000));
        Stereo::new(rate_hz, left, right)
    };
    let white = |seed| Stereo::both(48_000.0, noise::white(seed, 0.3, 150_000));
    let signals = [
        ("three tones", three_tones()),
        ("bench mix", bench_mix::play_for(6.0)),
        ("pink noise, 44.1 kHz", noises(44_100.0, 3)),
        ("pink noise, 192 kHz", noises(192_000.0, 5)),
        ("white noise", white(7)),
    ];
    for (name, signal) in signals {
        for ceiling_db in [-1.0, -0.3, -9.7] {
            let view = View { ceiling_db, ..View::default() };
            let reading = read_with(&signal, Settings::default(), &view);
            let text = serde_json::to_string(&reading).expect("a record");
            let record: serde_json::Value = serde_json::from_str(&text).expect("a record");
            let prices = record["causes"].as_array().expect("causes");
            let sum: f64 = prices.iter().map(|cause| cause["price_db"].as_f64().unwrap()).sum();
            let withheld_db = record["room"]["withheld_db"].as_f64().expect("a number");
            assert!(!prices.is_empty(), "{name}");
            assert_eq!(sum, withheld_db, "{name}, ceiling {ceiling_db}");
        }
    }
}

#[test]
fn what_one_filter_alone_would_do_is_what_a_fourier_transform_says() {
    let [left, right] = [1, 9].map(|seed| noise::pink(seed, 0.05, RATE_HZ, 400_000));
    let loud = |noise: &[f32], hz, level| added(noise, &tone(hz, level, 400_000.0 / RATE_HZ));
    let signals = [
        ("bench mix", bench_mix::play_for(5.0)),
        ("rumble", Stereo::new(RATE_HZ, loud(&left, 9.0, -9.0), loud(&right, 9.0, -12.0))),
        ("hiss", Stereo::new(RATE_HZ, loud(&left, 27_000.0, -14.0), right.clone())),
        // Filtering what is flat raises it: the price is negative, and no content takes that room.
        ("square", Stereo::both(RATE_HZ, scaled(&square(70.0), 0.4))),
    ];
    for (name, signal) in signals {
        // Interpolation is exact up to 0.4535 of the rate.
        let signal = fourier::audible(&signal, 1e-6, 40_000.0);
        let reading = read(&signal);
        let peak = |low_hz: f64, high_hz: f64| {
            let band = fourier::audible(&signal, low_hz, high_hz);
            fourier::true_peak_dbtp(&band.left).max(fourier::true_peak_dbtp(&band.right))
        };
        // Edges beyond everything take nothing away.
        let (nothing_below, nothing_above) = (1e-6, RATE_HZ);
        let whole = peak(nothing_below, nothing_above);
        let mut checks = Checks::of(name, "one Fourier transform of the whole signal");
        for (code, alone) in [
            (CauseCode::Above, whole - peak(nothing_below, 20_000.0)),
            (CauseCode::Below, whole - peak(20.0, nothing_above)),
        ] {
            let found = cause(&reading, code).map(|cause| cause.alone_db);
            checks.number(&format!("{code:?} alone"), found, alone, 0.05);
            let found = cause(&reading, code).expect("a cause");
            let says = |what: &str| found.sentence().contains(what);
            checks.that(!says("takes"), "no room taken by content", found.sentence());
            if found.price_db <= -0.05 {
                checks.that(says("Without the content"), "less room without", found.sentence());
            }
        }
    }
}

/// A square wave without content near half the rate.
fn square(hz: f64) -> Vec<f32> {
    let mut wave = vec![0.0; frames(RATE_HZ, 4.0)];
    for harmonic in (1..).step_by(2).take_while(|n| f64::from(*n) * hz < 40_000.0) {
        let n = f64::from(harmonic);
        let part = Sine::new(n * hz, 4.0 / (std::f64::consts::PI * n)).faded(RATE_HZ, 4.0, 0.3);
        wave = added(&wave, &part);
    }
    wave
}

/// A tone above the band beside one in it, both with crests that meet: amplitudes add, so that the price
/// is 20·log10(1 + r) at r times the audible amplitude (closed form).
#[test]
fn how_a_price_grew_is_told_by_its_moments() {
    let audible = tone(1000.0, -20.0, 12.0);
    let louder_at = |ratio: f64, begins_s: f64| -> Vec<f32> {
        let whistle = Sine::new(31_007.3, ratio * amplitude(-20.0)).play(RATE_HZ, 12.0);
        let onset = frames(RATE_HZ, begins_s);
        whistle.iter().enumerate().map(|(n, x)| if n < onset { 0.0 } else { *x }).collect()
    };
    // 2.3 dB from 2 s on, 4.4 dB from 5 s on, 6.9 dB from 8 s on.
    let mut signal = added(&audible, &louder_at(0.3, 2.0));
    signal = added(&signal, &louder_at(0.36, 5.0));
    signal = added(&signal, &louder_at(0.55, 8.0));
    let reading = read(&Stereo::both(RATE_HZ, signal));
    let above = cause(&reading, CauseCode::Above).expect("a cause");
    let mut checks = Checks::of("a tone that grows", "the signal's own clock");
    for (index, begins_s) in [2.0, 2.0, 5.0, 8.0].into_iter().enumerate() {
        checks.number(&format!("from price {index} on"), above.grew_s[index], begins_s, 0.1);
    }
    checks.that(above.grew_s[4].is_none(), "never 10 dB", above.grew_s[4]);
}

#[test]
fn a_cause_is_dated_to_a_tenth_of_a_second() {
    let pink = Stereo::both(RATE_HZ, noise::pink(4, 0.03, RATE_HZ, frames(RATE_HZ, 12.0)));
    let music = fourier::audible(&pink, 30.0, 18_000.0).left;
    for (begins_s, block_frames) in [(3.0, 64), (7.37, 1000), (0.0, 4096)] {
        let onset = frames(RATE_HZ, begins_s);
        let whistle = Sine::new(31_000.0, 0.3).play(RATE_HZ, 12.0);
        let late: Vec<f32> =
            whistle.iter().enumerate().map(|(n, x)| if n < onset { 0.0 } else { *x }).collect();
        let signal = Stereo::both(RATE_HZ, added(&music, &late));
        let mut meter = stereo_meter(RATE_HZ, Settings::default());
        feed_by(&mut meter, &signal, block_frames);
        let reading = meter.reading(&View::default());
        let above = cause(&reading, CauseCode::Above).expect("a cause");
        let mut checks =
            Checks::of(format!("a tone from {begins_s} s on"), "the signal's own clock");
        checks.number("since", above.since_s(), begins_s, 0.1);
        let below = cause(&reading, CauseCode::Below).expect("a cause");
        checks.that(below.since_s().is_none(), "nothing below", below.since_s());
        meter.reset();
        feed(&mut meter, &Stereo::both(RATE_HZ, music.clone()));
        let since = cause(&meter.reading(&View::default()), CauseCode::Above).unwrap().since_s();
        checks.that(since.is_none(), "nothing after a reset", since);
    }
}

#[test]
fn between_samples_and_above_are_one_where_they_cannot_be_told_apart() {
    // Flat to half the rate: a tenth of it lies where no interpolation is exact.
    let white = Stereo::both(48_000.0, noise::white(3, 0.3, 96_000));
    let reading = read(&white);
    assert!(cause(&reading, CauseCode::InterSample).is_none());
    let above = cause(&reading, CauseCode::Above).expect("both in one");
    assert_eq!(above.since_s(), None, "nobody has followed both in one");
    // fs/4 at 45°: samples at 0.7071 of the amplitude.
    let sine = Sine::new(12_000.0, 0.5).at_phase(45.0).faded(48_000.0, 2.0, 0.05);
    let inter = cause(&read(&Stereo::both(48_000.0, sine)), CauseCode::InterSample);
    let mut checks = Checks::of("fs/4 at 45°", "closed form of its sample peak");
    checks.number("price", inter.map(|cause| cause.price_db), -3.0103, 0.02);
    checks.number("alone", inter.map(|cause| cause.alone_db), 3.0103, 0.02);
}

#[test]
fn the_fold_down_and_the_lift_as_the_mix_stands() {
    let left = Sine::new(997.0, 0.5).faded(48_000.0, 2.0, 0.05);
    for (gain, fold_db) in [(1.0, -6.0206 + 3.0103), (-1.0, f64::NEG_INFINITY)] {
        let signal = Stereo::new(48_000.0, left.clone(), scaled(&left, gain));
        let reading = read(&signal);
        let mut checks = Checks::of(format!("one sine, the other × {gain}"), "(L + R)/√2");
        if fold_db.is_finite() {
            checks.level("fold-down", reading.fold_down_dbtp, fold_db, 0.02);
        } else {
            checks.at_most("fold-down", reading.fold_down_dbtp, -150.0);
        }
    }
    // The hidden tones stand in the way now, and no longer behind a filter.
    let view = View { target: Some(Target::default()), ..View::default() };
    let reading = read_with(&three_tones(), Settings::default(), &view);
    let all_db = 20.0 * [-12.0, -18.0, -20.0].map(amplitude).iter().sum::<f64>().log10();
    let lift_db = reading.room.lift_db.finite().expect("a lift");
    let mut checks = Checks::of("three tones", "ceiling less the whole band's true peak");
    checks.level("lift now", reading.lift_now_db, lift_db.min(-1.0 - all_db), 0.04);
}
