//! What every mix engineer knows about adding two signals; common practice, no source.

use ledgerline_tests::readings::{Checks, read};
use ledgerline_tests::signals::tone::{delayed, scaled, sweep};
use ledgerline_tests::signals::{Stereo, frames, noise};

const RATE_HZ: f64 = 48_000.0;
const LENGTH_S: f64 = 10.0;
const SOURCE: &str = "common practice, no source";

fn white(seed: u64) -> Vec<f32> {
    noise::white_gaussian(seed, 0.1, frames(RATE_HZ, LENGTH_S))
}

fn sources() -> [(&'static str, Vec<f32>); 3] {
    [
        ("Gaussian noise", white(41)),
        ("pink noise", noise::pink(42, 0.1, RATE_HZ, frames(RATE_HZ, LENGTH_S))),
        ("sweep", sweep(RATE_HZ, 30.0, 18_000.0, 0.4, LENGTH_S)),
    ]
}

/// Sum above one of two equal halves, in each band, and the correlation.
fn check_sum(
    signal: &str,
    a: &[f32],
    b: Vec<f32>,
    expected_db: f64,
    r: (f64, f64),
    tolerance_db: f64,
) {
    let reading = read(&Stereo::new(RATE_HZ, a.to_vec(), b));
    let mut checks = Checks::of(signal, SOURCE);
    for (name, band) in [("whole", &reading.whole), ("audible", &reading.audible)] {
        let gain = band.sum.rms_dbfs.minus(band.a.rms_dbfs);
        checks.level(&format!("{name} sum above A"), gain, expected_db, tolerance_db);
        checks.number(&format!("{name} correlation"), band.halves.correlation, r.0, r.1);
    }
}

#[test]
fn identical_sources_add_6_db_and_their_reversal_silences_them() {
    for (name, a) in sources() {
        check_sum(&format!("{name} twice"), &a, a.clone(), 6.0206, (1.0, 1e-6), 0.001);
        let reversed = scaled(&a, -1.0);
        let name = format!("{name} and its reversal");
        check_sum(&name, &a, reversed, f64::NEG_INFINITY, (-1.0, 1e-6), 0.0);
    }
}

#[test]
fn independent_sources_add_3_db_and_their_polarity_changes_nothing() {
    let (a, b) = (white(43), white(44));
    // 4.343/√N dB is one standard deviation of the sum: 0.006 dB for ten seconds.
    check_sum("independent noises", &a, b.clone(), 3.0103, (0.0, 0.007), 0.05);
    check_sum("one of them reversed", &a, scaled(&b, -1.0), 3.0103, (0.0, 0.007), 0.05);
}

#[test]
fn a_delay_longer_than_the_longest_wavelength_decorrelates_noise_from_itself() {
    let a = white(45);
    for delay_s in [0.05, 0.1, 0.5] {
        let b = delayed(&a, frames(RATE_HZ, delay_s));
        let name = format!("noise and itself {delay_s} s later");
        // The half that waits is a little quieter for it.
        check_sum(&name, &a, b, 3.0103, (0.0, 0.007), 0.05 + 0.25 * delay_s);
    }
}

#[test]
fn a_delay_shorter_than_that_does_not_decorrelate_low_sounds() {
    // Half a millisecond is a fiftieth of a period of 40 Hz: cos(2π/50).
    let a = sweep(RATE_HZ, 30.0, 53.0, 0.4, LENGTH_S);
    let reading = read(&Stereo::new(RATE_HZ, a.clone(), delayed(&a, 24)));
    let mut checks = Checks::of("rumble and itself 0.5 ms later", SOURCE);
    checks.number("correlation", reading.whole.halves.correlation, 0.992, 0.004);
}

#[test]
fn pan_and_gain_move_levels_by_what_they_say() {
    let a = white(47);
    for gain_db in [-20.0, -6.0, -0.1, 3.0] {
        let b = scaled(&a, 10f64.powf(gain_db / 20.0));
        let reading = read(&Stereo::new(RATE_HZ, a.clone(), b));
        let mut checks = Checks::of(format!("noise and itself at {gain_db} dB"), SOURCE);
        for (name, band) in [("whole", &reading.whole), ("audible", &reading.audible)] {
            let difference = band.halves.level_difference_db;
            checks.level(&format!("{name} level difference"), difference, -gain_db, 0.001);
            let loudness = band.b.integrated_lufs.minus(band.a.integrated_lufs);
            checks.level(&format!("{name} loudness"), loudness, gain_db, 0.001);
            let peak = band.b.true_peak_dbtp.minus(band.a.true_peak_dbtp);
            checks.level(&format!("{name} true peak"), peak, gain_db, 0.001);
        }
    }
}
