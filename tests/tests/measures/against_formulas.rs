//! K-weighting against the standard's coefficients, RMS and correlation against sums in `f64`, and
//! the windows against the stretches that they cover.

use ledgerline_measure::k_weighting::response_db;
use ledgerline_measure::{RmsWindow, Settings, View};
use ledgerline_tests::formulas::{
    RATES_HZ, correlation, fourier, k_weighting, peak_dbfs, rms_dbfs,
};
use ledgerline_tests::readings::{Checks, read, read_on, read_with, stereo_meter};
use ledgerline_tests::signals::tone::{Sine, added, dc, silence, sweep};
use ledgerline_tests::signals::{Stereo, amplitude, bench_mix, frames, noise};

#[test]
fn k_weighting_follows_the_48_khz_response_at_every_rate() {
    for rate_hz in RATES_HZ.into_iter().chain([352_800.0, 384_000.0, 705_600.0, 768_000.0]) {
        let mut checks =
            Checks::of(format!("K-weighting at {rate_hz} Hz"), "ITU-R BS.1770-5, Tables 1 and 2");
        for hz in k_weighting::audible_points_hz() {
            let expected = k_weighting::standard_db(hz);
            checks.number(&format!("{hz:.1} Hz"), Some(response_db(rate_hz, hz)), expected, 0.01);
        }
    }
}

#[test]
fn k_weighting_as_tones_meet_it_is_the_published_response() {
    for rate_hz in RATES_HZ {
        let mut meter = stereo_meter(rate_hz, Settings::default());
        for hz in [25.0, 40.0, 100.0, 1000.0, 2500.0, 10_000.0, 16_000.0, 20_000.0] {
            let tone = Sine::new(hz, amplitude(-20.0)).play(rate_hz, 2.0);
            let signal = Stereo::new(rate_hz, tone, silence(rate_hz, 2.0));
            let reading = read_on(&mut meter, &signal, &View::default());
            let mut checks =
                Checks::of(format!("{hz} Hz at {rate_hz} Hz"), "ITU-R BS.1770-5, Tables 1 and 2");
            let expected = -20.0 - 3.0103 - 0.691 + k_weighting::standard_db(hz);
            // A block holds whole periods of all but nothing else; the abrupt start adds a little.
            checks.level("integrated_lufs", reading.whole.bus.integrated_lufs, expected, 0.02);
        }
    }
}

/// Signals whose RMS is summed, at 48 kHz unless they have a rate of their own.
fn signals() -> Vec<(&'static str, Stereo)> {
    const RATE_HZ: f64 = 48_000.0;
    const LENGTH_S: f64 = 5.0;
    let count = frames(RATE_HZ, LENGTH_S);
    let pair = |left, right| Stereo::new(RATE_HZ, left, right);
    let tone = |hz| Sine::new(hz, 0.3).play(RATE_HZ, LENGTH_S);
    vec![
        ("uniform noise", pair(noise::white(21, 0.7, count), noise::white(22, 0.2, count))),
        (
            "Gaussian noise, far down",
            pair(noise::white_gaussian(23, 1e-5, count), noise::white_gaussian(24, 1e-6, count)),
        ),
        ("sines of 24 Hz and 23 kHz", pair(tone(24.0), tone(23_000.0))),
        ("a tone on DC", pair(added(&tone(100.0), &dc(RATE_HZ, 0.5, LENGTH_S)), tone(100.0))),
        ("sweep", Stereo::both(RATE_HZ, sweep(RATE_HZ, 5.0, 23_500.0, 0.9, LENGTH_S))),
        ("bench mix", bench_mix::play_for(12.0)),
    ]
}

#[test]
fn whole_band_rms_peak_and_correlation_are_the_sums_in_f64() {
    for (name, signal) in signals() {
        let reading = read(&signal);
        let whole = &reading.whole;
        let mut checks = Checks::of(name, "sums in f64");
        let sum = added(&signal.left, &signal.right);
        let channels = [
            ("a", whole.a, signal.left.as_slice()),
            ("b", whole.b, &signal.right),
            ("sum", whole.sum, &sum),
        ];
        for (of, levels, samples) in channels {
            checks.level(&format!("{of} rms_dbfs"), levels.rms_dbfs, rms_dbfs(samples), 0.001);
            let peak = peak_dbfs(samples);
            checks.level(&format!("{of} sample_peak_dbfs"), levels.sample_peak_dbfs, peak, 1e-5);
        }
        let both: Vec<f32> = [signal.left.as_slice(), &signal.right].concat();
        checks.level("bus rms_dbfs", whole.bus.rms_dbfs, rms_dbfs(&both), 0.001);
        checks.level("bus sample_peak_dbfs", whole.bus.sample_peak_dbfs, peak_dbfs(&both), 1e-5);
        let difference: Vec<f32> =
            signal.left.iter().zip(&signal.right).map(|(a, b)| a - b).collect();
        checks.level("null_dbfs", whole.halves.null_dbfs, rms_dbfs(&difference), 0.001);
        let r = correlation(&signal.left, &signal.right);
        checks.number("correlation", whole.halves.correlation, r, 1e-5);
        let seconds = signal.frames() as f64 / signal.rate_hz;
        checks.number("time_s", Some(reading.time_s), seconds, 1e-9);
    }
}

#[test]
fn audible_rms_is_that_of_a_fourier_transform_of_the_whole_signal() {
    for (name, signal) in signals() {
        // What a brick wall and a filter with a transition do to noise between 20 and 22 kHz
        // differs; the other signals have nothing there that matters.
        if name.contains("noise") {
            continue;
        }
        let expected = fourier::audible(&signal, 20.0, 20_000.0);
        let audible = read(&signal).audible;
        let mut checks = Checks::of(name, "Fourier transform of the whole signal");
        let sum = added(&expected.left, &expected.right);
        for (of, levels, samples) in [
            ("a", audible.a, &expected.left),
            ("b", audible.b, &expected.right),
            ("sum", audible.sum, &sum),
        ] {
            let expected = rms_dbfs(samples);
            if expected > -70.0 {
                // 0.02 dB is the pass band's; a sweep crosses the transition in a hundredth of
                // its time.
                let tolerance_db = if name == "sweep" { 0.1 } else { 0.025 };
                checks.level(&format!("{of} rms_dbfs"), levels.rms_dbfs, expected, tolerance_db);
            } else {
                checks.at_most(&format!("{of} rms_dbfs"), levels.rms_dbfs, -70.0);
            }
        }
    }
}

#[test]
fn windows_cover_their_own_length_and_forget_the_rest() {
    const RATE_HZ: f64 = 48_000.0;
    let loud = noise::white(31, 0.9, frames(RATE_HZ, 4.0));
    let quiet = noise::white(32, 0.01, frames(RATE_HZ, 4.0));
    let signal = Stereo::both(RATE_HZ, [loud, quiet].concat());
    let windows = [
        (RmsWindow::Short, 0.3),
        (RmsWindow::Medium, 1.0),
        (RmsWindow::Long, 3.0),
        (RmsWindow::SinceReset, 8.0),
    ];
    for (rms_window, length_s) in windows {
        let view = View { rms_window, peak_window_s: 2.0, ..View::default() };
        let reading = read_with(&signal, Settings::default(), &view);
        let mut checks = Checks::of(format!("{rms_window:?} after loud noise"), "sums in f64");
        let covered = &signal.left[signal.frames() - frames(RATE_HZ, length_s)..];
        let levels = reading.windows.whole.a;
        checks.level("rms_dbfs", levels.rms_dbfs, rms_dbfs(covered), 0.001);
        let recent = &signal.left[signal.frames() - frames(RATE_HZ, 2.0)..];
        checks.level("sample_peak_dbfs", levels.sample_peak_dbfs, peak_dbfs(recent), 0.0001);
        let held = reading.whole.a.sample_peak_dbfs;
        checks.level("held peak", held, peak_dbfs(&signal.left), 0.0001);
        let expected = (rms_window != RmsWindow::SinceReset).then_some(length_s);
        checks.that(
            reading.windows.rms_window_s == expected,
            "the window's length, none since reset",
            reading.windows.rms_window_s,
        );
    }
}

#[test]
fn overs_are_counted_in_runs_with_their_times() {
    const RATE_HZ: f64 = 48_000.0;
    let mut signal = silence(RATE_HZ, 3.0);
    // One that begins with a hop, one that goes on over a hop's end, two with a sample between.
    let runs = [(24_000, 1), (48_000, 5), (71_998, 6), (120_000, 1), (120_002, 1)];
    for (at, length) in runs {
        signal[at..at + length].fill(-1.0);
    }
    // A hair below full scale is no over.
    signal[96_000] = 1.0 - f32::EPSILON;
    let reading = read(&Stereo::new(RATE_HZ, signal, silence(RATE_HZ, 3.0)));
    let mut checks = Checks::of("runs of full-scale samples", "the definition of an over");
    checks.that(reading.whole.a.overs == Some(5), "5 overs in A", reading.whole.a.overs);
    checks.that(reading.whole.b.overs == Some(0), "no overs in B", reading.whole.b.overs);
    checks.that(reading.whole.bus.overs == Some(5), "5 overs on the bus", reading.whole.bus.overs);
    let times: Vec<f64> = runs.iter().map(|(at, _)| *at as f64 / RATE_HZ).collect();
    let got = reading.windows.over_times_s;
    let near = got.as_slice().len() == times.len()
        && got.as_slice().iter().zip(&times).all(|(a, b)| (a - b).abs() < 1e-9);
    checks.that(near, &format!("overs at {times:?} s"), got.as_slice());
}
