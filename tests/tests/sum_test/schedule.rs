//! The sum test's feeds and what they must show: the schedule, the noise, closed forms, statistics.

use ledgerline_measure::detector::Detector;
use ledgerline_measure::sum_test::schedule::{Form, Moment, STEPS, Schedule, hidden_tone_hz};
use ledgerline_measure::sum_test::{
    Feed, HIGHEST_LEVEL_DBFS, USUAL_LEVEL_DBFS, correlation_error, expectations, gaussian,
    mean_square_error_db, pink, standard_error_db, tolerance_db, uniform,
};

const RATES_HZ: [u32; 6] = [44_100, 48_000, 88_200, 96_000, 176_400, 192_000];

fn schedule(rate_hz: u32) -> Schedule {
    Schedule::new(rate_hz).expect("a rate at which the test plays")
}

#[test]
fn the_test_lasts_the_same_at_every_rate_and_refuses_others() {
    for rate_hz in RATES_HZ {
        let schedule = schedule(rate_hz);
        let length_s = schedule.length_frames() as f64 / f64::from(rate_hz);
        assert!((60.0..90.0).contains(&length_s), "{length_s} s");
        assert_eq!(length_s, Schedule::new(48_000).unwrap().length_frames() as f64 / 48_000.0);
    }
    assert!(Schedule::new(32_000).is_none());
    assert!(Schedule::new(384_000).is_none());
    assert!(Schedule::new(0).is_none());
}

#[test]
fn a_feed_is_a_pure_function_of_the_index() {
    let schedule = schedule(48_000);
    for feed in [Feed::One, Feed::Two] {
        let all = feed.all(&schedule, USUAL_LEVEL_DBFS);
        let mut piece = vec![0.0; 1_001];
        for start in [0, 23_990, 200_003, 2_000_001, 3_800_000] {
            feed.fill(&schedule, start, USUAL_LEVEL_DBFS, &mut piece);
            assert_eq!(piece, all[start as usize..start as usize + piece.len()]);
            assert_eq!(piece[17], feed.sample(&schedule, start + 17, USUAL_LEVEL_DBFS));
        }
        assert_eq!(feed.sample(&schedule, u64::MAX, USUAL_LEVEL_DBFS), 0.0);
    }
}

#[test]
fn a_form_plays_its_steps_at_any_pace_and_a_slower_step_begins_with_the_same_samples() {
    let with = |form, slot_s| Schedule::with(48_000, form, slot_s);
    for (form, slot_s) in [(Form::Full, 4.5), (Form::Full, 60.25), (Form::Short, 15.1)] {
        assert!(with(form, slot_s).is_none(), "{form:?} at {slot_s} s");
    }
    assert_eq!(with(Form::Full, 4.75), Schedule::new(48_000));
    let full = schedule(48_000);
    for (form, slot_s, length_s) in
        [(Form::Short, 6.25, 24.75), (Form::Short, 15.0, 51.0), (Form::Full, 15.0, 246.0)]
    {
        let slower = with(form, slot_s).expect("a pace");
        assert_eq!(slower.length_frames() as f64 / 48_000.0, length_s);
        assert_eq!(slower.closing_frames() + 84_000, slower.length_frames());
        for (step, start) in slower.step_starts() {
            assert_eq!(slower.moment(start), Moment::Step(step, 0));
            let known = full.step_start_frames(step).expect("the full test plays every step");
            for feed in [Feed::One, Feed::Two] {
                let [mut own, mut usual] = [[0.0; 4_800]; 2];
                let last = full.read_frames() - 4_800;
                feed.fill(&slower, start + last, USUAL_LEVEL_DBFS, &mut own);
                feed.fill(&full, known + last, USUAL_LEVEL_DBFS, &mut usual);
                assert_eq!(own, usual, "step {}", STEPS[step].number);
            }
        }
        let numbers: Vec<usize> = slower.steps().iter().map(|&step| STEPS[step].number).collect();
        assert_eq!(numbers == [3, 5, 4], form == Form::Short);
        assert_eq!(slower.step_start_frames(0).is_some(), form == Form::Full);
    }
}

#[test]
fn no_level_plays_above_the_limit_and_the_usual_peak_is_what_it_says() {
    let schedule = schedule(44_100);
    for feed in [Feed::One, Feed::Two] {
        for (level_dbfs, limit_dbfs) in [
            (USUAL_LEVEL_DBFS, USUAL_LEVEL_DBFS),
            (0.0, HIGHEST_LEVEL_DBFS),
            (f64::INFINITY, HIGHEST_LEVEL_DBFS),
        ] {
            let largest =
                feed.all(&schedule, level_dbfs).iter().fold(0f32, |held, x| held.max(x.abs()));
            let largest_db = 20.0 * f64::from(largest).log10();
            assert!((largest_db - limit_dbfs).abs() < 0.001, "{largest_db} at {level_dbfs}");
        }
        assert!(feed.all(&schedule, f64::NAN).iter().all(|&x| x == 0.0));
    }
}

#[test]
fn every_step_fades_in_and_out() {
    for rate_hz in RATES_HZ {
        let schedule = schedule(rate_hz);
        for (index, start) in schedule.step_starts() {
            let last = start + schedule.step_frames() - 1;
            assert_eq!(schedule.moment(start), Moment::Step(index, 0));
            assert_eq!(schedule.moment(last + 1), Moment::Silence);
            for feed in [Feed::One, Feed::Two] {
                for edge in [start, last] {
                    assert_eq!(feed.sample(&schedule, edge, -6.0), 0.0);
                }
                // A hundredth of the fade in, a raised cosine is at 0.00025.
                let near = (0.0002 * f64::from(rate_hz)) as u64;
                for edge in [start + near, last - near] {
                    assert!(feed.sample(&schedule, edge, -6.0).abs() < 0.0005);
                }
            }
        }
    }
}

#[test]
fn noises_have_their_distributions_and_are_independent() {
    let count = 400_000u64;
    let moments = |noise: &dyn Fn(u64) -> f64| {
        let (mut mean, mut square, mut fourth) = (0.0, 0.0, 0.0);
        for index in 0..count {
            let x = noise(index);
            mean += x;
            square += x * x;
            fourth += x.powi(4);
        }
        let count = count as f64;
        (mean / count, square / count, fourth / count / (square / count).powi(2))
    };
    // Five standard errors of each moment.
    let (mean, square, kurtosis) = moments(&|index| uniform(3, index));
    assert!(mean.abs() < 0.005 && (square - 1.0 / 3.0).abs() < 0.0025, "{mean} {square}");
    assert!((kurtosis - 1.8).abs() < 0.01, "{kurtosis}");
    let (mean, square, kurtosis) = moments(&|index| gaussian(3, index));
    assert!(mean.abs() < 0.008 && (square - 1.0).abs() < 0.012, "{mean} {square}");
    assert!((kurtosis - 3.0).abs() < 0.08, "{kurtosis}");
    let product: f64 = (0..count).map(|i| uniform(3, i) * uniform(4, i)).sum::<f64>();
    let correlation = 3.0 * product / count as f64;
    assert!(correlation.abs() < 5.0 / (count as f64).sqrt(), "{correlation}");
}

#[test]
fn pink_noise_falls_by_three_decibels_an_octave() {
    let size = 1 << 18;
    let mut planner = realfft::RealFftPlanner::<f64>::new();
    let forward = planner.plan_fft_forward(size);
    let mut time: Vec<f64> = (0..size as u64).map(|index| pink(5, index)).collect();
    let mut spectrum = forward.make_output_vec();
    forward.process(&mut time, &mut spectrum).expect("lengths from the plan");
    let octave_db = |low_hz: f64| {
        let bin = |hz: f64| (hz * size as f64 / 48_000.0) as usize;
        let power: f64 = (bin(low_hz)..bin(2.0 * low_hz)).map(|b| spectrum[b].norm_sqr()).sum();
        10.0 * power.log10()
    };
    // Octaves hold equal power. Steps that are held make it ripple by 1 dB.
    let levels: Vec<f64> = (0..8).map(|octave| octave_db(50.0 * f64::from(1 << octave))).collect();
    let mean = levels.iter().sum::<f64>() / levels.len() as f64;
    for level in &levels {
        assert!((level - mean).abs() < 1.0, "{levels:?}");
    }
}

/// What closed forms say of the steps, in every rate, in both bands.
#[test]
fn energy_follows_the_closed_forms() {
    for rate_hz in RATES_HZ {
        let expectations = expectations(rate_hz).expect("a rate at which the test plays");
        let rate = f64::from(rate_hz);
        for band in 0..2 {
            for detector in [Detector::Rms, Detector::Needle, Detector::Momentary] {
                let change = |step: usize| {
                    expectations.change_db(step - 1, band, detector).finite().expect("a level")
                };
                let near = |step: usize, expected_db: f64, form: &str| {
                    let tolerance = tolerance_db(rate, step - 1, band, detector);
                    let shown = change(step);
                    assert!(
                        (shown - expected_db).abs() <= tolerance,
                        "step {step} ({form}), {detector}, band {band}, {rate_hz} Hz: {shown:.4} \
                         instead of {expected_db:.4} ± {tolerance:.4} dB"
                    );
                };
                // Filters remember the step before by a rounding or two.
                assert!(change(2).abs() < 1e-6, "{}", change(2));
                assert!((change(3) - 6.0206).abs() < 1e-4);
                if detector != Detector::Needle {
                    for step in [5, 6, 7] {
                        near(step, 3.0103, "10·log10(2)");
                    }
                } else if band == 0 {
                    // Mean of |A + B| is 2/3 where that of |A| is 1/2.
                    for step in [5, 6, 7] {
                        near(step, 20.0 * (4.0f64 / 3.0).log10(), "2/3 over 1/2");
                    }
                }
                if detector == Detector::Rms && band == 0 {
                    near(8, 10.0 * 2.5f64.log10(), "(1/3 + 1/2) over 1/3");
                    near(9, 10.0 * 1.5f64.log10(), "1/2 over 1/3");
                    near(12, 10.0 * 1.5f64.log10(), "1/2 over 1/3");
                    near(10, 10.0 * (3.0f64 / 16.0).log10(), "1/16 over 1/3");
                    let burst = |share: f64| 10.0 * (1.5 * share).log10();
                    near(13, burst(0.1 / 0.3), "100 of 300 ms");
                    near(14, burst(0.01 / 0.3), "10 of 300 ms");
                }
                if band == 1 && detector == Detector::Rms {
                    near(8, 0.0, "the tone is hidden");
                }
            }
            // The null is digital silence.
            for detector in Detector::ALL {
                let null = expectations.level(3, band, detector, USUAL_LEVEL_DBFS);
                assert_eq!(null, ledgerline_measure::Level::SILENCE, "{detector}");
            }
        }
    }
}

/// Bounded noises: the largest of many samples nears the bound.
#[test]
fn peaks_follow_the_closed_forms() {
    for rate_hz in RATES_HZ {
        let expectations = expectations(rate_hz).expect("a rate at which the test plays");
        let level = |step: usize| {
            let level = expectations.level(step - 1, 0, Detector::SamplePeak, 0.0);
            level.finite().expect("a level")
        };
        let samples = f64::from(rate_hz) * 3.4;
        assert!(level(1).abs() < 0.001, "{}", level(1));
        assert!((level(3) - 6.0206).abs() < 0.001);
        // 2 − √(π/N), give or take three standard deviations √((4 − π)/N).
        for step in [5, 6, 7] {
            let mean = 2.0 - (std::f64::consts::PI / samples).sqrt();
            let deviation = ((4.0 - std::f64::consts::PI) / samples).sqrt();
            let bounds = [mean - 3.0 * deviation, 2.0].map(|x| 20.0 * x.log10());
            assert!((bounds[0]..=bounds[1]).contains(&level(step)), "{} {bounds:?}", level(step));
        }
        assert!(level(9).abs() < 0.001 && level(12).abs() < 0.03, "{} {}", level(9), level(12));
    }
}

/// The heart of the matter: a held sample peak does not see decorrelation, RMS sees 3 dB of it.
#[test]
fn a_held_sample_peak_hides_the_three_decibels_that_energy_shows() {
    let expectations = expectations(48_000).expect("a rate at which the test plays");
    let drop = |detector| {
        let level = |step| expectations.level(step, 0, detector, 0.0).finite().expect("a level");
        level(2) - level(4)
    };
    assert!(drop(Detector::SamplePeak) < 0.06, "{}", drop(Detector::SamplePeak));
    assert!((drop(Detector::Rms) - 3.01).abs() < 0.06, "{}", drop(Detector::Rms));
}

#[test]
fn expectations_follow_the_level() {
    let expectations = expectations(48_000).expect("a rate at which the test plays");
    for detector in Detector::ALL {
        let [low, high] = [-20.0, -6.0]
            .map(|level| expectations.level(0, 0, detector, level).finite().expect("a level"));
        assert!((high - low - 14.0).abs() < 1e-9);
    }
}

/// Bendat and Piersol: 4.343/√(B·T) for Gaussian noise; times 0.632 and 0.837 for uniform noise and
/// the sum of two.
#[test]
fn standard_errors_follow_from_length_and_bandwidth() {
    for (bandwidth_hz, length_s, expected_db) in [
        (20_000.0, 0.3, 0.056),
        (20_000.0, 1.0, 0.031),
        (20_000.0, 3.0, 0.018),
        (232.0, 1.0, 0.285),
    ] {
        let error_db = mean_square_error_db(3.0, bandwidth_hz, length_s);
        assert!((error_db - expected_db).abs() < 0.0006, "{error_db}");
    }
    // N = 4800 independent samples.
    assert!((mean_square_error_db(1.8, 24_000.0, 0.1) - 0.0561).abs() < 0.0001);
    assert!((mean_square_error_db(2.4, 24_000.0, 0.1) - 0.0742).abs() < 0.0001);
    assert!((correlation_error(24_000.0, 0.2) - 0.0102).abs() < 0.0001);
    let length_s = Schedule::settled_s();
    let rms = |step, band| standard_error_db(48_000.0, step, band, Detector::Rms);
    assert!((rms(0, 0) - mean_square_error_db(1.8, 24_000.0, length_s)).abs() < 1e-9);
    assert!((rms(4, 0) - mean_square_error_db(2.4, 24_000.0, length_s)).abs() < 1e-9);
    assert!((rms(0, 1) - mean_square_error_db(3.0, 20_000.0, length_s)).abs() < 1e-9);
    assert_eq!(rms(11, 0), 0.0);
    let tolerance = tolerance_db(48_000.0, 4, 0, Detector::Rms);
    assert!((tolerance - 1.96 * rms(0, 0).hypot(rms(4, 0))).abs() < 1e-9);
}

/// The errors that the tolerances stand for, found by trying: other seeds, the same step.
#[test]
fn standard_errors_are_what_other_seeds_scatter_by() {
    use ledgerline_measure::detector::Bank;
    let rate_hz = 48_000.0;
    let frames = 3.48 * rate_hz;
    let runs = 150;
    let mut shown = vec![Vec::new(); Detector::ALL.len()];
    for run in 0..runs {
        let noise: Vec<f32> =
            (0..frames as u64).map(|n| 0.1 * uniform(900 + run, n) as f32).collect();
        let mut bank = Bank::new(rate_hz, 24_000.0);
        bank.take(&noise);
        for (shown, level) in shown.iter_mut().zip(bank.settled()) {
            shown.push(level.finite().expect("a level"));
        }
    }
    for (detector, shown) in Detector::ALL.into_iter().zip(&shown) {
        let mean = shown.iter().sum::<f64>() / shown.len() as f64;
        let square: f64 = shown.iter().map(|x| (x - mean).powi(2)).sum();
        let scatter = (square / (shown.len() - 1) as f64).sqrt();
        let expected = standard_error_db(rate_hz, 0, 0, detector);
        println!("{detector}: {scatter:.5} dB, expected {expected:.5} dB");
        // Averages have an exact law: four standard errors of a scatter from 150 runs are 23 %.
        // The laws of peaks are asymptotic: within a factor of two.
        let most: f64 = if detector.is_peak() { 2.0 } else { 1.23 };
        if detector != Detector::SamplePeak {
            assert!(
                scatter < most * expected && scatter > expected / most,
                "{detector}: {scatter:.5} dB, expected {expected:.5} dB"
            );
        } else {
            assert!(scatter < 0.001, "{scatter}");
        }
    }
}

#[test]
fn the_hidden_tone_lies_above_hearing_and_below_half_the_rate() {
    assert_eq!(hidden_tone_hz(48_000.0), 22_500.0);
    for rate_hz in RATES_HZ.map(f64::from) {
        let tone_hz = hidden_tone_hz(rate_hz);
        assert!(tone_hz > 20_800.0 && tone_hz < 0.48 * rate_hz, "{tone_hz}");
    }
}
