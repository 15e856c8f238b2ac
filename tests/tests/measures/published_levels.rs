//! Adding levels, nulls, correlation and crest factors against published tables and closed forms.

use ledgerline_measure::{Level, RmsReference, Settings, View};
use ledgerline_tests::formulas::{null_depth_db, sum_db};
use ledgerline_tests::readings::{Checks, read, read_with};
use ledgerline_tests::signals::tone::{Sine, added, dc, delayed, scaled};
use ledgerline_tests::signals::{Stereo, amplitude, noise};

const RATE_HZ: f64 = 48_000.0;
/// A whole number of periods of every tone here, so that different tones are exactly orthogonal.
const LENGTH_S: f64 = 1.0;
const DEFINITION: &str = "power, coherent and correlated sums of levels by definition";

fn tone(hz: f64, amplitude: f64) -> Vec<f32> {
    Sine::new(hz, amplitude).play(RATE_HZ, LENGTH_S)
}

#[test]
fn adding_two_levels_gives_the_handbook_s_table() {
    // To add to the higher level: independent, identical and opposite signals d dB apart.
    const TABLE_DB: [(f64, f64, f64, f64); 16] = [
        (0.0, 3.01, 6.02, f64::NEG_INFINITY),
        (1.0, 2.54, 5.53, -19.27),
        (2.0, 2.12, 5.08, -13.74),
        (3.0, 1.76, 4.65, -10.69),
        (4.0, 1.46, 4.25, -8.66),
        (5.0, 1.19, 3.88, -7.18),
        (6.0, 0.97, 3.53, -6.04),
        (7.0, 0.79, 3.21, -5.14),
        (8.0, 0.64, 2.91, -4.41),
        (9.0, 0.51, 2.64, -3.81),
        (10.0, 0.41, 2.39, -3.30),
        (11.0, 0.33, 2.16, -2.88),
        (12.0, 0.27, 1.95, -2.51),
        (13.0, 0.21, 1.75, -2.20),
        (14.0, 0.17, 1.58, -1.93),
        (15.0, 0.14, 1.42, -1.70),
    ];
    // The rounded table for noise levels of Hong Kong's Environmental Protection Department,
    // "Summation of Noise Levels": the largest difference of each row, and what to add.
    const HANDBOOK_DB: [(f64, f64); 6] =
        [(0.5, 3.0), (1.5, 2.5), (3.0, 2.0), (4.5, 1.5), (7.0, 1.0), (12.0, 0.5)];
    let high = amplitude(-10.0);
    for (difference_db, power_db, coherent_db, opposite_db) in TABLE_DB {
        let low = high * amplitude(-difference_db);
        let add = |b: Vec<f32>| {
            let reading = read(&Stereo::new(RATE_HZ, tone(1000.0, high), b));
            reading.whole.sum.rms_dbfs.minus(reading.whole.a.rms_dbfs)
        };
        let mut checks =
            Checks::of(format!("two tones {difference_db} dB apart, added"), DEFINITION);
        let independent = add(tone(1500.0, low));
        // The table is rounded to 0.01 dB.
        checks.level("independent", independent, power_db, 0.006);
        checks.level("identical", add(tone(1000.0, low)), coherent_db, 0.006);
        checks.level("opposite", add(tone(1000.0, -low)), opposite_db, 0.006);
        let row = HANDBOOK_DB.iter().find(|(up_to_db, _)| difference_db <= *up_to_db);
        // The handbook rounds to half decibels.
        let rounded_db = row.map_or(0.0, |(_, add_db)| *add_db);
        checks.level("handbook", independent, rounded_db, 0.25);
    }
}

#[test]
fn equal_levels_add_by_their_correlation() {
    for (r, above_one_db) in [
        (1.0, 6.02),
        (0.9, 5.80),
        (0.75, 5.44),
        (0.5, 4.77),
        (0.25, 3.98),
        (0.0, 3.01),
        (-0.25, 1.76),
        (-0.5, 0.00),
        (-0.75, -3.01),
        (-0.9, -6.99),
        (-0.99, -16.99),
        (-1.0, f64::NEG_INFINITY),
    ] {
        let a = tone(1000.0, 0.25);
        let other = tone(1700.0, 0.25 * (1.0f64 - r * r).sqrt());
        let reading = read(&Stereo::new(RATE_HZ, a.clone(), added(&scaled(&a, r), &other)));
        let mut checks = Checks::of(format!("equal levels with correlation {r}"), DEFINITION);
        for (name, band) in [("whole", &reading.whole), ("audible", &reading.audible)] {
            checks.number(&format!("{name} correlation"), band.halves.correlation, r, 1e-3);
        }
        let halves = &reading.whole.halves;
        checks.number("correlation", halves.correlation, r, 1e-5);
        let gain = reading.whole.sum.rms_dbfs.minus(reading.whole.a.rms_dbfs);
        checks.level("sum above one of them", gain, above_one_db, 0.006);
        checks.level("sum_gain_energy_db", halves.sum_gain_energy_db, above_one_db - 3.0103, 0.006);
        checks.level("level_difference_db", halves.level_difference_db, 0.0, 0.001);
    }
}

#[test]
fn the_identity_ties_the_sum_to_levels_and_correlation_even_with_dc() {
    let with_dc = |signal: &[f32], value| added(signal, &dc(RATE_HZ, value, LENGTH_S));
    let frames = RATE_HZ as usize;
    let noise = noise::white_gaussian(7, 0.1, frames);
    for (name, a, b) in [
        ("tones with DC", with_dc(&tone(1000.0, 0.2), 0.1), with_dc(&tone(1500.0, 0.1), 0.05)),
        ("DC against DC", with_dc(&noise, 0.2), with_dc(&scaled(&noise, -0.4), -0.1)),
        ("noise and its delay", noise.clone(), delayed(&noise, 3)),
        ("noise and a tone", noise.clone(), tone(440.0, 0.3)),
    ] {
        let reading = read(&Stereo::new(RATE_HZ, a, b));
        let mut checks = Checks::of(
            name,
            "L = 10·log10(10^(La/10) + 10^(Lb/10) + 2·r·10^((La+Lb)/20)), mean not removed",
        );
        for (name, band) in [("whole", &reading.whole), ("audible", &reading.audible)] {
            let level = |level: Level| level.finite().unwrap_or(f64::NAN);
            let (a_db, b_db) = (level(band.a.rms_dbfs), level(band.b.rms_dbfs));
            let r = band.halves.correlation.unwrap_or(f64::NAN);
            let mut check = |what: &str, got, r| {
                checks.level(&format!("{name} {what}"), got, sum_db(a_db, b_db, r), 0.0005);
            };
            check("sum rms_dbfs", band.sum.rms_dbfs, r);
            check("coherent_dbfs", band.halves.coherent_dbfs, 1.0);
            check("power_dbfs", band.halves.power_dbfs, 0.0);
            check("null_dbfs", band.halves.null_dbfs, -r);
        }
    }
}

#[test]
fn null_depth_follows_gain_and_time_errors() {
    let depth = |b: Vec<f32>| {
        let reading = read(&Stereo::new(RATE_HZ, tone(1000.0, 0.5), b));
        reading.whole.halves.null_dbfs.minus(reading.whole.a.rms_dbfs)
    };
    for error_db in [0.001, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 3.0, 6.0] {
        let mut checks = Checks::of(
            format!("a tone against itself, {error_db} dB lower"),
            "20·log10|1 − 10^(−g/20)|",
        );
        let b = tone(1000.0, 0.5 * amplitude(-error_db));
        // The smallest error leaves a residue near the rounding of the samples themselves.
        let tolerance_db = if error_db < 0.01 { 0.02 } else { 0.005 };
        checks.level("null depth", depth(b), null_depth_db(error_db), tolerance_db);
    }
    for phase_deg in [0.1f64, 0.5, 1.0, 5.0, 10.0, 60.0, 180.0] {
        let expected_db = 20.0 * (2.0 * (0.5 * phase_deg).to_radians().sin()).log10();
        let b = Sine::new(1000.0, 0.5).at_phase(phase_deg).play(RATE_HZ, LENGTH_S);
        let mut checks =
            Checks::of(format!("a tone against itself, {phase_deg}° late"), "20·log10(2·sin(θ/2))");
        checks.level("null depth", depth(b), expected_db, 0.01);
    }
}

#[test]
fn crest_factors_are_those_of_the_closed_forms() {
    let frames = 20 * RATE_HZ as usize;
    let ramp = |shape: fn(f64) -> f64| -> Vec<f32> {
        // A prime number of samples a period meets every value; the odd half keeps it symmetric.
        (0..frames).map(|i| (0.5 * shape((i % 4801) as f64 / 4800.0)) as f32).collect()
    };
    for (name, signal, expected_db, tolerance_db) in [
        ("sine", tone(1000.0, 0.5), 3.0103, 0.001),
        ("square", ramp(|x| if x < 0.5 { 1.0 } else { -1.0 }), 0.0, 0.001),
        ("triangle", ramp(|x| 1.0 - 4.0 * (x - 0.5).abs()), 4.7712, 0.005),
        ("sawtooth", ramp(|x| 2.0 * x - 1.0), 4.7712, 0.005),
        // 4.343·√((1.8 − 1)/960 000) = 0.004 dB is one standard deviation of the RMS.
        ("uniform noise", noise::white(3, 0.5, frames), 4.7712, 0.015),
    ] {
        let reading = read(&Stereo::both(RATE_HZ, signal));
        let mut checks = Checks::of(name, "closed form of peak over RMS");
        for (of, levels) in [("a", reading.whole.a), ("bus", reading.whole.bus)] {
            checks.level(&format!("{of} crest_db"), levels.crest_db, expected_db, tolerance_db);
        }
    }
}

#[test]
fn equal_sines_at_other_frequencies_have_a_crest_factor_of_2n() {
    for (count, expected_db) in [(2, 6.0206), (4, 9.0309), (8, 12.0412), (16, 15.0515)] {
        let all = (0..count).fold(vec![0.0; RATE_HZ as usize], |sum: Vec<f32>, n| {
            // All are at their maximum in the first sample.
            let hz = 101.0 + f64::from(n * n) * 37.0;
            let sine = Sine::new(hz, 0.05).at_phase(90.0);
            added(&sum, &sine.play(RATE_HZ, LENGTH_S))
        });
        let reading = read(&Stereo::both(RATE_HZ, all));
        let mut checks = Checks::of(format!("{count} equal sines"), "20·log10√(2n)");
        checks.level("crest_db", reading.whole.a.crest_db, expected_db, 0.001);
    }
}

#[test]
fn two_uniform_noises_have_a_crest_factor_of_7_78_db_and_gaussian_noise_a_bell_s() {
    let frames = 20 * RATE_HZ as usize;
    let signal = Stereo::new(RATE_HZ, noise::white(1, 0.25, frames), noise::white(2, 0.25, frames));
    let reading = read(&signal);
    let mut checks = Checks::of("two uniform noises, 20 s", "20·log10√6");
    // The largest of 960 000 sums falls short of both maxima by √(π/N) on the average.
    checks.level("sum crest_db", reading.whole.sum.crest_db, 7.7815, 0.05);
    let bell = noise::white_gaussian(5, 0.05, frames);
    let reading = read(&Stereo::both(RATE_HZ, bell));
    let mut checks =
        Checks::of("Gaussian noise, 20 s", "extreme values of 960 000 samples, 5 % to 95 %");
    checks.level("crest_db", reading.whole.a.crest_db, 14.04, 0.67);
}

#[test]
fn full_scale_means_a_square_wave_or_a_sine_as_the_user_says() {
    let view = View { rms_reference: RmsReference::FullScaleSine, ..View::default() };
    let signal = Stereo::both(RATE_HZ, Sine::new(997.0, 1.0).play(RATE_HZ, 2.0));
    let mut checks = Checks::of("full-scale sine of 997 Hz", "AES17 full-scale level");
    for (name, view, expected_dbfs) in [("square", View::default(), -3.0103), ("sine", view, 0.0)] {
        let reading = read_with(&signal, Settings::default(), &view);
        for (of, levels) in [("a", reading.whole.a), ("bus", reading.whole.bus)] {
            checks.level(
                &format!("{of}, 0 dBFS is a {name}"),
                levels.rms_dbfs,
                expected_dbfs,
                0.001,
            );
            checks.level(&format!("{of} crest_db"), levels.crest_db, 3.0103, 0.001);
        }
        let window = reading.windows.whole.bus.rms_dbfs;
        checks.level(&format!("window, 0 dBFS is a {name}"), window, expected_dbfs, 0.001);
        let audible = reading.audible.bus.rms_dbfs;
        checks.level(&format!("audible, 0 dBFS is a {name}"), audible, expected_dbfs, 0.02);
    }
}
