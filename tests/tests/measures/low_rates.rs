//! Rates below those of music: voice notes, telephones, old video. Everything is measured as at any
//! other rate, though a hop of 10 ms may be no whole number of frames.

use ebur128::{EbuR128, Mode};
use ledgerline_measure::{Edges, Settings, View};
use ledgerline_tests::formulas::fourier::at_times_the_rate;
use ledgerline_tests::formulas::{k_weighting, peak_dbfs, rms_dbfs};
use ledgerline_tests::readings::{Checks, read, read_on, read_with, stereo_meter};
use ledgerline_tests::signals::ebu;
use ledgerline_tests::signals::tone::Sine;
use ledgerline_tests::signals::{Stereo, frames, noise};

/// Each rate, and how many times as high the rate is at which the crate's weighting is the
/// standard's within 0.005 dB: 44.1 or 48 kHz.
const RATES_HZ: [(f64, usize); 6] =
    [(8_000.0, 6), (11_025.0, 4), (12_000.0, 4), (16_000.0, 3), (22_050.0, 2), (24_000.0, 2)];

#[test]
fn tones_up_to_0_45_of_the_rate_are_weighted_as_at_48_khz() {
    for (rate_hz, _) in RATES_HZ {
        let mut meter = stereo_meter(rate_hz, Settings::default());
        let mut checks = Checks::of(
            format!("full-scale tones at {rate_hz} Hz"),
            "ITU-R BS.1770-5, Annex 1, Tables 1 and 2",
        );
        let highest_hz = 0.45 * rate_hz;
        for point in 0..=20 {
            let hz = 20.0 * (highest_hz / 20.0).powf(f64::from(point) / 20.0);
            // 400 ms hold a whole number of its periods.
            let hz = (hz / 2.5).round() * 2.5;
            let tone = Stereo::new(rate_hz, Sine::new(hz, 1.0).play(rate_hz, 3.0), Vec::new());
            let reading = read_on(&mut meter, &tone, &View::default());
            let expected_lufs = -3.0103 - 0.691 + k_weighting::standard_db(hz);
            let momentary = reading.whole.bus.momentary_lufs;
            checks.level(&format!("{hz} Hz"), momentary, expected_lufs, 0.01);
        }
    }
}

#[test]
fn loudness_agrees_with_an_independent_meter_on_the_interpolated_signal() {
    for (rate_hz, factor) in RATES_HZ {
        let count = frames(rate_hz, 8.0);
        let pair = |left, right| Stereo::new(rate_hz, left, right);
        let sine = |hz| Sine::new(hz, 0.1).play(rate_hz, 8.0);
        let signals = [
            (
                "independent Gaussian noises",
                pair(noise::white_gaussian(31, 0.1, count), noise::white_gaussian(32, 0.05, count)),
            ),
            ("pink noise", Stereo::both(rate_hz, noise::pink(34, 0.05, rate_hz, count))),
            ("sines of 60 Hz and 3 kHz", pair(sine(60.0), sine(3000.0))),
        ];
        for (name, signal) in signals {
            let mode = Mode::I | Mode::M | Mode::S;
            let high_hz = factor as u32 * rate_hz as u32;
            let mut theirs = EbuR128::new(2, high_hz, mode).expect("a rate it takes");
            let fine = signal.channels().map(|channel| at_times_the_rate(channel, factor));
            theirs.add_frames_planar_f32(&fine.each_ref().map(Vec::as_slice)).expect("two");
            let bus = read(&signal).whole.bus;
            let mut checks = Checks::of(format!("{name} at {rate_hz} Hz"), "ebur128 crate 0.1");
            // 0.01 dB for our weighting, 0.005 dB for the crate's.
            let mut check = |what, got, expected: Result<f64, _>| {
                checks.level(what, got, expected.expect("a loudness"), 0.015);
            };
            check("integrated_lufs", bus.integrated_lufs, theirs.loudness_global());
            check("momentary_lufs", bus.momentary_lufs, theirs.loudness_momentary());
            check("short_term_lufs", bus.short_term_lufs, theirs.loudness_shortterm());
        }
    }
}

#[test]
fn windows_that_no_hop_of_whole_frames_fills_are_still_in_time() {
    // 110.25 frames in 10 ms.
    let rate_hz = 11_025.0;
    for offset in 0..ebu::OFFSETS {
        let windows = read(&ebu::play(rate_hz, &ebu::case_13(offset))).windows.whole.bus;
        let mut checks = Checks::of(format!("case 13, file {offset}"), "EBU Tech 3341 (2023)");
        checks.level("momentary_max_lufs", windows.momentary_max_lufs, -23.0, 0.1);
    }
    let windows = read(&ebu::play(rate_hz, &ebu::case_10(7))).windows.whole.bus;
    let mut checks = Checks::of("case 10, file 7", "EBU Tech 3341 (2023)");
    checks.level("short_term_max_lufs", windows.short_term_max_lufs, -23.0, 0.1);
    let integrated = read(&ebu::play(rate_hz, &ebu::integrated_case(4))).whole.bus.integrated_lufs;
    let mut checks = Checks::of("case 4", "EBU Tech 3341 (2023)");
    checks.level("integrated_lufs", integrated, -23.0, 0.1);
}

#[test]
fn peaks_and_energies_are_exact_and_true_peaks_within_0_02_db() {
    for (rate_hz, _) in RATES_HZ {
        let noises = [51, 52].map(|seed| noise::white(seed, 0.3, frames(rate_hz, 2.005)));
        let [left, right] = noises.clone();
        let reading = read(&Stereo::new(rate_hz, left, right));
        let mut checks = Checks::of(format!("noise at {rate_hz} Hz"), "the samples themselves");
        for (band, noise) in [(reading.whole.a, &noises[0]), (reading.whole.b, &noises[1])] {
            checks.level("sample_peak_dbfs", band.sample_peak_dbfs, peak_dbfs(noise), 1e-6);
            checks.level("rms_dbfs", band.rms_dbfs, rms_dbfs(noise), 1e-4);
        }
        let length_s = noises[0].len() as f64 / rate_hz;
        checks.number("time_s", Some(reading.time_s), length_s, 1e-12);
        checks.number("above_share", reading.hidden.above_share, 0.0, 1e-12);
        for share in [0.02, 0.1, 0.25, 0.301, 0.4, 0.45] {
            let tone = Sine::new(share * rate_hz, 0.8).at_phase(33.0).faded(rate_hz, 1.0, 0.1);
            let peak = read(&Stereo::both(rate_hz, tone)).whole.bus.true_peak_dbtp;
            let mut checks = Checks::of(format!("{share} of {rate_hz} Hz"), "closed form");
            checks.level("true_peak_dbtp", peak, 20.0 * 0.8f64.log10(), 0.02);
        }
    }
}

#[test]
fn an_upper_edge_below_half_a_low_rate_hides_what_lies_above() {
    let edges = Edges::nearest(100.0, 5_000.0);
    let settings = Settings { edges, ..Settings::default() };
    for (rate_hz, above_hz) in [(11_025.0, 5_400.0), (12_000.0, 5_400.0), (16_000.0, 7_000.0)] {
        let faded = |hz, amplitude| Sine::new(hz, amplitude).faded(rate_hz, 4.0, 0.2);
        let mix: Vec<f32> =
            faded(1000.0, 0.1).iter().zip(faded(above_hz, 0.3)).map(|(x, y)| x + y).collect();
        let reading = read_with(&Stereo::both(rate_hz, mix), settings, &View::default());
        let mut checks = Checks::of(
            format!("1 kHz and {above_hz} Hz at {rate_hz} Hz, edge at 5 kHz"),
            "closed form",
        );
        checks.level("audible true peak", reading.audible.bus.true_peak_dbtp, -20.0, 0.03);
        checks.number("above_share", reading.hidden.above_share, 0.9, 0.001);
        let tone = reading.hidden.tones.as_slice().first().map(|tone| tone.hz);
        checks.number("the strongest hidden tone", tone, above_hz, 2.0);
    }
}
