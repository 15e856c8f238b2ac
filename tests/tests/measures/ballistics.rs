//! The detectors' dynamics against the published burst readings.
//!
//! Where a comment says so, a standard's figure was known only second hand; its tolerance is then
//! the one that goes with it, and the model has to stay inside.

use std::f64::consts::TAU;

use ledgerline_measure::Level;
use ledgerline_measure::detector::{
    Bank, Detector, Momentary, Needle, ProgrammeType, QuasiPeak, Rms, SamplePeak, TruePeak,
};
use ledgerline_tests::signals::noise;

const RATES_HZ: [f64; 6] = [44_100.0, 48_000.0, 88_200.0, 96_000.0, 176_400.0, 192_000.0];

fn tone(rate_hz: f64, hz: f64, length_s: f64) -> Vec<f32> {
    (0..(rate_hz * length_s).round() as u64)
        .map(|n| (TAU * (n as f64 * hz / rate_hz).fract()).sin() as f32)
        .collect()
}

fn db(level: Level) -> f64 {
    level.db().expect("a reading")
}

fn programme_burst_db(rate_hz: f64, kind: ProgrammeType, length_s: f64) -> f64 {
    let mut meter = QuasiPeak::new(rate_hz, kind);
    meter.take(&tone(rate_hz, 5_000.0, length_s));
    meter.take(&vec![0.0; 100]);
    db(meter.highest())
}

fn check_bursts(kind: ProgrammeType, table: &[(f64, f64, f64)]) {
    for rate_hz in RATES_HZ {
        for &(length_ms, expected_db, tolerance_db) in table {
            let shown_db = programme_burst_db(rate_hz, kind, length_ms / 1_000.0);
            assert!(
                (shown_db - expected_db).abs() <= tolerance_db,
                "Type {kind:?}, {length_ms} ms at {rate_hz} Hz: {shown_db:.2} dB, not \
                 {expected_db} ± {tolerance_db} dB"
            );
        }
    }
}

/// IEC 60268-10, Type I: 5 kHz bursts against the steady tone. The 2 dB at 5 ms are the definition
/// of the integration time; tolerances as handed down for the standard's table.
#[test]
fn type_1_reads_the_bursts_of_iec_60268_10() {
    check_bursts(
        ProgrammeType::I,
        &[(10.0, -1.0, 0.5), (5.0, -2.0, 1.0), (3.0, -4.0, 1.0), (0.4, -15.0, 4.0)],
    );
}

/// IEC 60268-10, Type II: the 2 dB at 10 ms are the definition of the integration time.
#[test]
fn type_2_reads_the_bursts_of_iec_60268_10() {
    check_bursts(
        ProgrammeType::II,
        &[
            (100.0, 0.0, 0.5),
            (10.0, -2.0, 0.5),
            (5.0, -4.0, 0.5),
            (1.5, -9.0, 1.0),
            (0.5, -17.0, 2.0),
        ],
    );
}

/// IEC 60268-10: Type I returns by 20 dB in 1.7 ± 0.3 s, Type II by 24 dB in 2.8 ± 0.3 s.
#[test]
fn programme_meters_return_in_the_time_of_iec_60268_10() {
    for rate_hz in RATES_HZ {
        for (kind, fall_db, time_s) in
            [(ProgrammeType::I, 20.0, 1.7), (ProgrammeType::II, 24.0, 2.8)]
        {
            let mut meter = QuasiPeak::new(rate_hz, kind);
            meter.take(&tone(rate_hz, 5_000.0, 2.0));
            let start_db = db(meter.now());
            let step = vec![0.0; (rate_hz / 1_000.0) as usize];
            let mut steps = 0;
            while start_db - db(meter.now()) < fall_db {
                meter.take(&step);
                steps += 1;
            }
            let fell_s = steps as f64 * step.len() as f64 / rate_hz;
            assert!((fell_s - time_s).abs() <= 0.3, "Type {kind:?}, {rate_hz} Hz: {fell_s} s");
        }
    }
}

#[test]
fn programme_meters_read_a_steady_5_khz_sine_at_its_peak() {
    for rate_hz in RATES_HZ {
        for kind in [ProgrammeType::I, ProgrammeType::II] {
            let shown_db = programme_burst_db(rate_hz, kind, 3.0);
            assert!(shown_db.abs() < 0.1, "Type {kind:?}, {rate_hz} Hz: {shown_db:.3} dB");
        }
    }
}

/// IEC 60268-17: 99 % of a suddenly applied tone at 300 ms ± 10 %, overshoot 1 to 1.5 %.
#[test]
fn the_needle_rises_and_overshoots_as_iec_60268_17_asks() {
    for rate_hz in RATES_HZ {
        let mut needle = Needle::new(rate_hz);
        // 997 Hz meets every phase; a tone locked to the rate averages to less.
        let tone = tone(rate_hz, 997.0, 3.0);
        let steady_db = -3.0103;
        let mut reached_s = None;
        for (index, step) in tone.chunks((rate_hz / 1_000.0) as usize).enumerate() {
            needle.take(step);
            if reached_s.is_none() && db(needle.now()) >= steady_db + 20.0 * 0.99f64.log10() {
                reached_s = Some((index + 1) as f64 * step.len() as f64 / rate_hz);
            }
        }
        let reached_s = reached_s.expect("the needle reaches 99 %");
        assert!((0.27..=0.33).contains(&reached_s), "{rate_hz} Hz: {reached_s} s");
        let overshoot = 10f64.powf((db(needle.highest()) - steady_db) / 20.0) - 1.0;
        assert!((0.010..=0.015).contains(&overshoot), "{rate_hz} Hz: {overshoot}");
        let settled_db = db(needle.settled()) - steady_db;
        assert!(settled_db.abs() < 0.01, "{rate_hz} Hz: {settled_db:.4} dB");
    }
}

/// Bursts on the second-order system that meets IEC 60268-17 with 1.25 % of overshoot; 173 ms to
/// −2 dB lies in the 207 ± 30 ms that ITU-R BS.645 quotes less its lower limit, so the curve is
/// held by the model's own closed form instead.
#[test]
fn the_needle_reads_short_bursts_as_its_model_does() {
    let rate_hz = 48_000.0;
    for (length_ms, expected_db) in [
        (10.0, -24.9),
        (20.0, -18.9),
        (50.0, -11.1),
        (100.0, -5.6),
        (150.0, -2.8),
        (173.0, -2.0),
        (200.0, -1.3),
        (300.0, -0.1),
        (500.0, 0.11),
    ] {
        let mut needle = Needle::new(rate_hz);
        needle.take(&tone(rate_hz, 5_000.0, length_ms / 1_000.0));
        needle.take(&vec![0.0; 48_000]);
        let shown_db = db(needle.highest()) + 3.0103;
        assert!((shown_db - expected_db).abs() < 0.06, "{length_ms} ms: {shown_db:.3} dB");
    }
}

/// Closed forms: the rectified average, calibrated on a sine, against the true RMS.
#[test]
fn the_needle_reads_noise_low_by_the_form_factor() {
    let rate_hz = 48_000.0;
    let length = 480_000;
    let uniform = noise::white(1, 0.5, length);
    let other = noise::white(2, 0.5, length);
    let sum: Vec<f32> = uniform.iter().zip(&other).map(|(a, b)| a + b).collect();
    let gaussian = noise::white_gaussian(3, 0.2, length);
    let square = vec![0.5; length];
    for (name, signal, expected_db) in [
        ("square", square, 0.91),
        ("uniform", uniform, -0.34),
        ("sum of two uniform", sum, -0.85),
        ("Gaussian", gaussian, -1.05),
    ] {
        let (mut needle, mut rms) = (Needle::new(rate_hz), Rms::new(rate_hz));
        needle.take(&signal);
        rms.take(&signal);
        let shown_db = db(needle.settled()) - db(rms.settled());
        // Four standard errors of the mean of 9 s of noise, 0.006 dB each, and rounding.
        assert!((shown_db - expected_db).abs() < 0.03, "{name}: {shown_db:.3} dB");
    }
}

/// Closed forms: a burst shorter than the window loses 10·log10(length / window).
#[test]
fn rms_and_momentary_read_bursts_by_their_share_of_the_window() {
    for rate_hz in RATES_HZ {
        let (mut rms, mut momentary) = (Rms::new(rate_hz), Momentary::new(rate_hz));
        let silence = vec![0.0; rate_hz as usize];
        let burst = tone(rate_hz, 5_000.0, 0.1);
        for signal in [&silence, &burst, &silence] {
            rms.take(signal);
            momentary.take(signal);
        }
        let expected_db = -3.0103 + 10.0 * (0.1f64 / 0.3).log10();
        assert!((db(rms.highest()) - expected_db).abs() < 0.001);
        // K-weighting at 5 kHz adds 4.01 dB, the offset takes 0.691 (ITU-R BS.1770-5).
        let expected_lufs = -3.0103 + 10.0 * 0.25f64.log10() + 4.01 - 0.691;
        let shown_lufs = db(momentary.highest());
        assert!((shown_lufs - expected_lufs).abs() < 0.03, "{rate_hz} Hz: {shown_lufs:.3} LUFS");
    }
}

/// A sine at a quarter of the rate, 45° off: samples 3.01 dB below the waveform (closed form).
#[test]
fn sample_peak_and_true_peak_differ_by_the_closed_form() {
    let signal: Vec<f32> =
        (0..48_000u32).map(|n| (TAU * (f64::from(n) / 4.0 + 0.125)).sin() as f32).collect();
    // The waveform itself, from its middle: a sudden start would ring.
    let faded: Vec<f32> =
        signal.iter().enumerate().map(|(n, x)| x * (n as f32 / 4_800.0).min(1.0)).collect();
    let (mut sample_peak, mut true_peak) = (SamplePeak::new(), TruePeak::new(48_000.0, 24_000.0));
    sample_peak.take(&faded);
    true_peak.take(&faded);
    assert!((db(sample_peak.highest()) + 3.0103).abs() < 0.001);
    assert!(db(true_peak.highest()).abs() < 0.02);
}

#[test]
fn cutting_into_slices_changes_nothing_and_reset_forgets_everything() {
    let rate_hz = 48_000.0;
    let mut signal = noise::white(7, 0.5, 100_001);
    signal[5_000] = f32::NAN;
    signal[5_001] = f32::INFINITY;
    let mut whole = Bank::new(rate_hz, 24_000.0);
    whole.take(&signal);
    let (expected_highest, expected_settled) = (whole.highest(), whole.settled());
    for size in [1, 17, 64, 1_000] {
        let mut cut = Bank::new(rate_hz, 24_000.0);
        cut.take(&noise::white(8, 1.0, 12_345));
        cut.reset();
        for slice in signal.chunks(size) {
            cut.take(slice);
        }
        for (index, detector) in Detector::ALL.into_iter().enumerate() {
            assert_eq!(cut.highest()[index], expected_highest[index], "{detector}, {size}");
            assert_eq!(cut.settled()[index], expected_settled[index], "{detector}, {size}");
            assert!(cut.highest()[index].finite().is_some(), "{detector} is poisoned");
        }
    }
}
