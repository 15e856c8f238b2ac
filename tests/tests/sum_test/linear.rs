//! Perfect sums through buses that are linear but not flat: whatever a bus does to a sound, it does to
//! both feeds, so the audit has to find the sum correct and say nothing of the path but what is so.
//! And a sum that is wrong has to be found through them as finely as without.

use std::f64::consts::TAU;
use std::sync::LazyLock;

use ledgerline_measure::sum_test::{Audit, FaultCode, GradeCode, audit};
use ledgerline_measure::sum_test::{Feed, Form, Schedule, USUAL_LEVEL_DBFS, Verdict};
use ledgerline_tests::mixer::Mixer;

const RATE_HZ: u32 = 48_000;

static FEEDS: LazyLock<[Vec<f32>; 2]> = LazyLock::new(|| {
    let schedule = Schedule::new(RATE_HZ).expect("a rate at which the test plays");
    [Feed::One, Feed::Two].map(|feed| feed.all(&schedule, USUAL_LEVEL_DBFS))
});

fn bus(mixer: &Mixer) -> Vec<f32> {
    mixer.record([&FEEDS[0], &FEEDS[1]], f64::from(RATE_HZ))
}

fn judge(channels: &[&[f32]]) -> Audit {
    audit(channels, RATE_HZ, USUAL_LEVEL_DBFS)
        .unwrap_or_else(|error| panic!("the recording can be judged, but: {error}"))
}

/// A filter of difference equations: y[n] = Σ b[k]·x[n−k] − Σ a[k]·y[n−k], the k from 0 and from 1.
fn filtered(signal: &[f32], b: &[(usize, f64)], a: &[(usize, f64)]) -> Vec<f32> {
    let mut output: Vec<f64> = Vec::with_capacity(signal.len());
    for n in 0..signal.len() {
        let ago = |k: usize| n.checked_sub(k);
        let input: f64 =
            b.iter().filter_map(|&(k, weight)| Some(weight * f64::from(signal[ago(k)?]))).sum();
        let fed_back: f64 =
            a.iter().filter_map(|&(k, weight)| Some(weight * output[ago(k)?])).sum();
        output.push(input - fed_back);
    }
    output.into_iter().map(|x| x as f32).collect()
}

fn echo(signal: &[f32], frames: usize, gain: f64) -> Vec<f32> {
    filtered(signal, &[(0, 1.0), (frames, gain)], &[])
}

fn late(signal: &[f32], frames: usize) -> Vec<f32> {
    filtered(signal, &[(frames, 1.0)], &[])
}

fn all_pass(signal: &[f32], frames: usize, gain: f64) -> Vec<f32> {
    filtered(signal, &[(0, -gain), (frames, 1.0)], &[(frames, -gain)])
}

/// A second-order section of R. Bristow-Johnson's "Cookbook formulae for audio EQ biquad filter
/// coefficients".
enum Section {
    Bell { gain_db: f64 },
    LowPass,
    HighPass,
}

fn section(signal: &[f32], kind: &Section, hz: f64, q: f64) -> Vec<f32> {
    let omega = TAU * hz / f64::from(RATE_HZ);
    let (cos, alpha) = (omega.cos(), omega.sin() / (2.0 * q));
    let (b, a) = match kind {
        Section::Bell { gain_db } => {
            let amplitude = 10f64.powf(gain_db / 40.0);
            let (up, down) = (alpha * amplitude, alpha / amplitude);
            ([1.0 + up, -2.0 * cos, 1.0 - up], [1.0 + down, -2.0 * cos, 1.0 - down])
        }
        Section::LowPass => {
            let b = (1.0 - cos) / 2.0;
            ([b, 2.0 * b, b], [1.0 + alpha, -2.0 * cos, 1.0 - alpha])
        }
        Section::HighPass => {
            let b = f64::midpoint(1.0, cos);
            ([b, -2.0 * b, b], [1.0 + alpha, -2.0 * cos, 1.0 - alpha])
        }
    };
    let b = [0, 1, 2].map(|k| (k, b[k] / a[0]));
    filtered(signal, &b, &[(1, a[1] / a[0]), (2, a[2] / a[0])])
}

/// Four parallel combs that ring for a second, then two all-passes (M. R. Schroeder, "Natural
/// sounding artificial reverberation", 1962), beside the sound itself.
fn reverberant(signal: &[f32]) -> Vec<f32> {
    let mut sum = signal.to_vec();
    for frames in [1_427, 1_621, 1_783, 1_973] {
        let gain = 10f64.powf(-3.0 * frames as f64 / f64::from(RATE_HZ));
        let comb = filtered(signal, &[(frames, 0.25)], &[(frames, -gain)]);
        let comb = all_pass(&all_pass(&comb, 241, 0.7), 83, 0.7);
        sum.iter_mut().zip(&comb).for_each(|(sum, x)| *sum += x);
    }
    sum
}

fn telephone(signal: &[f32]) -> Vec<f32> {
    let high = section(signal, &Section::HighPass, 300.0, 0.707);
    let low = section(&high, &Section::LowPass, 3_400.0, 0.541);
    section(&low, &Section::LowPass, 3_400.0, 1.307)
}

/// What a bus may be, with a name: left and right of the recording.
fn linear(bus: &[f32]) -> Vec<(&'static str, Vec<Vec<f32>>)> {
    let bell = Section::Bell { gain_db: 12.0 };
    let mono = |signal: Vec<f32>| vec![signal];
    vec![
        ("echo 10 samples", mono(echo(bus, 10, 0.7))),
        ("echo 100 ms", mono(echo(bus, 4_800, 0.5))),
        ("comb", mono(filtered(bus, &[(0, 1.0)], &[(99, -0.8)]))),
        ("right 10 samples late", vec![bus.to_vec(), late(bus, 10)]),
        ("right 20 samples late", vec![bus.to_vec(), late(bus, 20)]),
        ("right 1 ms late", vec![bus.to_vec(), late(bus, 48)]),
        ("right 5 ms late", vec![bus.to_vec(), late(bus, 240)]),
        (
            "right 12.5 samples late",
            vec![bus.to_vec(), filtered(bus, &[(12, 0.5), (13, 0.5)], &[])],
        ),
        ("bell", mono(section(bus, &bell, 1_000.0, 1.0))),
        ("telephone", mono(telephone(bus))),
        ("mean of two samples", mono(filtered(bus, &[(0, 0.5), (1, 0.5)], &[]))),
        ("all-passes", mono(all_pass(&all_pass(bus, 347, 0.7), 37, 0.7))),
        ("reverberation", mono(reverberant(bus))),
        (
            "left and right filtered apart",
            vec![section(bus, &Section::LowPass, 4_000.0, 0.7), echo(bus, 29, -0.6)],
        ),
    ]
}

fn check_each(buses: Vec<(&'static str, Vec<Vec<f32>>)>, check: impl Fn(&str, &Audit) + Sync) {
    let next = std::sync::atomic::AtomicUsize::new(0);
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(2, usize::from) {
            scope.spawn(|| {
                loop {
                    let index = next.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
                    let Some((name, channels)) = buses.get(index) else { break };
                    let channels: Vec<&[f32]> = channels.iter().map(Vec::as_slice).collect();
                    check(name, &judge(&channels));
                }
            });
        }
    });
}

#[test]
fn a_perfect_sum_is_correct_through_any_linear_bus() {
    check_each(linear(&bus(&Mixer::default())), |name, audit| {
        assert!(audit.faults.is_empty(), "{name}: {:?}", audit.faults);
        assert_eq!(audit.verdict, Verdict::SumsCorrectly, "{name}: {}", audit.sentence);
    });
}

#[test]
fn a_perfect_sum_is_correct_through_a_linear_bus_and_another_clock() {
    for (index, drift_ppm) in [-200.0, 20.0, 80.0].into_iter().enumerate() {
        let mixer = Mixer { drift_ppm, lead_frames: 777.25, noise_rms: 1e-5, ..Mixer::default() };
        let (name, channels) = linear(&bus(&mixer)).swap_remove([0, 5, 8][index]);
        let channels: Vec<&[f32]> = channels.iter().map(Vec::as_slice).collect();
        let audit = judge(&channels);
        assert!(audit.faults.is_empty(), "{name}, {drift_ppm}: {:?}", audit.faults);
        assert_eq!(audit.verdict, Verdict::SumsCorrectly, "{name}: {}", audit.sentence);
    }
}

#[test]
fn a_sum_off_by_a_twentieth_of_a_decibel_is_found_through_any_linear_bus() {
    for off_db in [0.05, -0.05] {
        let both_gain = 10f64.powf(off_db / 20.0);
        let mixer = Mixer { both_gain, ..Mixer::default() };
        check_each(linear(&bus(&mixer)), |name, audit| {
            let codes: Vec<FaultCode> = audit.faults.iter().map(|fault| fault.code).collect();
            assert_eq!(codes, [FaultCode::SumRatio], "{name}: {:?}", audit.faults);
            let found_db = audit.faults[0].numbers["off_db"];
            assert!((found_db - off_db).abs() < 0.005, "{name}: {found_db} for {off_db}");
        });
    }
}

#[test]
fn clipping_is_found_before_and_after_an_echo() {
    let plain = bus(&Mixer::default());
    let clip =
        |signal: &[f32], at: f32| signal.iter().map(|x| x.clamp(-at, at)).collect::<Vec<_>>();
    for recording in [echo(&clip(&plain, 0.178), 48, 0.5), clip(&echo(&plain, 48, 0.5), 0.2)] {
        let audit = judge(&[&recording]);
        assert_eq!(audit.faults[0].code, FaultCode::Clipping, "{:?}", audit.faults);
    }
}

#[test]
fn a_filter_in_one_channel_keeps_opposite_polarities_from_cancelling() {
    let [one, two] = &*FEEDS;
    let sum = |two: &[f32]| one.iter().zip(two).map(|(x, y)| x + y).collect::<Vec<f32>>();
    // (what is in channel 2, a frequency at which it shows)
    let cases = [
        (section(two, &Section::HighPass, 30.0, 0.707), 30.0),
        (section(two, &Section::HighPass, 80.0, 0.707), 80.0),
        (section(two, &Section::Bell { gain_db: 3.0 }, 60.0, 2.0), 60.0),
        (section(two, &Section::Bell { gain_db: -2.0 }, 900.0, 4.0), 900.0),
    ];
    for (two, hz) in cases {
        for recording in [sum(&two), echo(&sum(&two), 480, 0.5)] {
            let audit = judge(&[&recording]);
            let fault = audit.faults.iter().find(|fault| fault.code == FaultCode::NullDepth);
            let fault = fault.unwrap_or_else(|| panic!("{hz} Hz: {}", audit.sentence));
            assert!((fault.numbers["low_hz"]..fault.numbers["high_hz"]).contains(&hz), "{fault:?}");
            assert!(!audit.sentence.contains("and opposite polarities cancel"));
            assert_eq!(audit.verdict, Verdict::Faulty);
        }
    }
}

#[test]
fn a_bend_is_graded_whichever_way_it_bends() {
    let plain = bus(&Mixer::default());
    // x becomes x + a·x³: a sine as high as both feeds' peaks becomes 1 + 3a/4 of itself, with a third
    // harmonic of a/4.
    for share in [0.042, -0.039] {
        let peak = 10f32.powf(-14.0 / 20.0);
        let bent: Vec<f32> = plain.iter().map(|x| x + share * x * (x / peak).powi(2)).collect();
        let percent = 100.0 * f64::from(share / 4.0 / (1.0 + 0.75 * share)).abs();
        let audit = judge(&[&bent]);
        assert_eq!(audit.verdict, Verdict::SumsCorrectly, "{}", audit.sentence);
        let grade = |code| audit.grades.iter().find(|grade| grade.code == code).expect("a grade");
        let found = grade(GradeCode::Distortion);
        assert!((found.value - percent).abs() < 0.02, "{found:?} instead of {percent}");
        // Over uniform noise of half the peak x³ follows 0.15 of x, over the whole 0.6.
        let taken_db = -20.0 * f64::from((1.0 + 0.6 * share) / (1.0 + 0.15 * share)).log10();
        let loss = grade(GradeCode::SumLoss);
        assert!((loss.value - taken_db).abs() < 0.01, "{loss:?} instead of {taken_db}");
        let word = if share > 0.0 { "dB higher than" } else { "dB lower than" };
        assert!(loss.sentence.contains(word), "{}", loss.sentence);
    }
}

#[test]
fn a_shelf_on_one_channel_is_a_fault_at_once_and_no_matter_of_level() {
    for form in [Form::Full, Form::Short] {
        let schedule = Schedule::with(RATE_HZ, form, form.usual_slot_s()).expect("a form");
        let [one, two] = [Feed::One, Feed::Two].map(|feed| feed.all(&schedule, USUAL_LEVEL_DBFS));
        // All there is below 4 kHz, and a decibel less of what lies far above.
        let low = section(&two, &Section::LowPass, 4_000.0, 0.707);
        let shelved = two.iter().zip(&low).map(|(x, low)| 0.89 * x + 0.11 * low);
        let recording: Vec<f32> = one.iter().zip(shelved).map(|(x, y)| x + y).collect();
        let audit = judge(&[&recording]);
        assert!(audit.faults.iter().any(|f| f.code == FaultCode::NullDepth), "{}", audit.sentence);
        assert!(!audit.sentence.contains("Raise feed 2"), "{}", audit.sentence);
        assert!(audit.sentence.contains("no fader makes them alike"), "{}", audit.sentence);
    }
}

/// The channels 1 dB and 40 samples apart, and a recorder whose clock is off: nothing that no fader and
/// no delay would make alike.
#[test]
fn a_level_and_a_delay_are_no_shelf_in_the_short_test() {
    let schedule = Schedule::with(RATE_HZ, Form::Short, Form::Short.usual_slot_s());
    let schedule = schedule.expect("a form");
    let feeds = [Feed::One, Feed::Two].map(|feed| feed.all(&schedule, USUAL_LEVEL_DBFS));
    for (drift_ppm, delay, noise_rms) in [(-230.0, 40.3, 1e-5), (170.0, -0.4, 1e-3)] {
        let mixer = Mixer {
            channel_gains: [1.0, 0.891],
            channel_delays_frames: [0.0, delay],
            drift_ppm,
            lead_frames: 777.25,
            noise_rms,
            sixteen_bit: true,
            ..Mixer::default()
        };
        let recording = mixer.record([&feeds[0], &feeds[1]], f64::from(RATE_HZ));
        let audit = judge(&[&recording]);
        assert!(audit.faults.is_empty(), "{}", audit.sentence);
        assert!(audit.sentence.contains("Raise feed 2's channel by 1.0"), "{}", audit.sentence);
    }
}
