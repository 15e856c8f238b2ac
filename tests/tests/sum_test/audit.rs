//! The audit against simulated mixers: each fault found with its figure, no fault where there is
//! none, and a clear error where nothing can be judged.

use std::sync::LazyLock;

use ledgerline_measure::sum_test::{
    Audit, AuditError, FaultCode, Form, Grade, GradeCode, Limits, Polarity, audit, audit_within,
};
use ledgerline_measure::sum_test::{Feed, Schedule, USUAL_LEVEL_DBFS, Verdict};
use ledgerline_tests::mixer::Mixer;
use ledgerline_tests::runs;
use ledgerline_tests::signals::noise;

const RATE_HZ: u32 = 48_000;

static FEEDS: LazyLock<[Vec<f32>; 2]> = LazyLock::new(|| feeds(RATE_HZ));

fn feeds(rate_hz: u32) -> [Vec<f32>; 2] {
    let schedule = Schedule::new(rate_hz).expect("a rate at which the test plays");
    [Feed::One, Feed::Two].map(|feed| feed.all(&schedule, USUAL_LEVEL_DBFS))
}

fn record(mixer: &Mixer) -> Vec<f32> {
    mixer.record([&FEEDS[0], &FEEDS[1]], f64::from(RATE_HZ))
}

fn judge(recording: &[f32]) -> Audit {
    audit(&[recording], RATE_HZ, USUAL_LEVEL_DBFS)
        .unwrap_or_else(|error| panic!("the recording can be judged, but: {error}"))
}

fn codes(audit: &Audit) -> Vec<FaultCode> {
    audit.faults.iter().map(|fault| fault.code).collect()
}

fn number(audit: &Audit, code: FaultCode, key: &str) -> f64 {
    let fault = audit
        .faults
        .iter()
        .find(|fault| fault.code == code)
        .unwrap_or_else(|| panic!("{code:?} is missing from {:?}", audit.faults));
    fault.numbers[key]
}

fn check_alignment(mixer: &Mixer, audit: &Audit, rate_hz: f64) {
    let alignment = audit.alignment;
    assert!((alignment.drift_ppm - mixer.drift_ppm).abs() < 5.0, "{alignment:?} {mixer:?}");
    let delay_frames = alignment.delay_s * rate_hz;
    assert!((delay_frames - mixer.lead_frames).abs() < 1.0, "{alignment:?} {mixer:?}");
    let gain_db = alignment.gain_db.finite().expect("a gain");
    let mixed_db = 20.0 * (mixer.gain * mixer.channel_gains[0]).abs().log10();
    assert!((gain_db - mixed_db).abs() < 0.05, "{gain_db} {mixer:?}");
    let expected = if mixer.gain < 0.0 { Polarity::Inverted } else { Polarity::Same };
    assert_eq!(alignment.polarity, expected);
}

#[test]
fn clean_recordings_raise_no_fault() {
    let runs = runs::usual_or_long(runs::BELOW_5_PERCENT, 200);
    let next = std::sync::atomic::AtomicU64::new(0);
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(2, usize::from) {
            scope.spawn(|| {
                loop {
                    let seed = next.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
                    if seed >= runs {
                        break;
                    }
                    let mixer = Mixer::clean(seed, f64::from(RATE_HZ));
                    let audit = judge(&record(&mixer));
                    assert!(audit.faults.is_empty(), "{mixer:?}: {:?}", audit.faults);
                    assert_eq!(audit.verdict, Verdict::SumsCorrectly, "{mixer:?}: {audit:?}");
                    check_alignment(&mixer, &audit, f64::from(RATE_HZ));
                    // In the audible band: what a recorder's resampling does just below half the
                    // rate is no noise, and changes from step to step.
                    for step in &audit.steps[..8] {
                        let rms = step.bands["audible"]["rms"];
                        assert!(rms.within, "step {}: {rms:?} {mixer:?}", step.step);
                    }
                }
            });
        }
    });
}

#[test]
fn a_perfect_recording_is_within_tolerance_in_every_detector_and_step() {
    let audit = judge(&record(&Mixer::default()));
    for step in &audit.steps {
        for (band, rows) in &step.bands {
            for (detector, row) in rows {
                assert!(row.within, "step {}, {band}, {detector}: {row:?}", step.step);
            }
        }
    }
    assert_eq!(audit.verdict, Verdict::SumsCorrectly);
}

#[test]
fn every_rate_is_judged() {
    for rate_hz in [44_100, 96_000, 192_000] {
        let feeds = feeds(rate_hz);
        let rate = f64::from(rate_hz);
        let mixer = Mixer { noise_rms: 1e-4, ..Mixer::clean(u64::from(rate_hz), rate) };
        let recording = mixer.record([&feeds[0], &feeds[1]], rate);
        let audit = audit(&[&recording], rate_hz, USUAL_LEVEL_DBFS).expect("judged");
        assert!(audit.faults.is_empty(), "{rate_hz}: {:?}", audit.faults);
        check_alignment(&mixer, &audit, rate);
    }
}

fn grade(audit: &Audit, code: GradeCode) -> &Grade {
    let grade = audit.grades.iter().find(|grade| grade.code == code);
    grade.unwrap_or_else(|| panic!("{code:?} is missing from {:?}", audit.grades))
}

#[test]
fn a_level_difference_is_graded_within_a_hundredth_of_a_decibel() {
    for (seed, mismatch_db) in [0.02, -0.08, 0.1, -0.3, 1.0, -3.0].into_iter().enumerate() {
        let clean = Mixer::clean(seed as u64, f64::from(RATE_HZ));
        let mixer = Mixer { channel_gains: [1.0, 10f64.powf(mismatch_db / 20.0)], ..clean };
        let audit = judge(&record(&mixer));
        assert!(audit.faults.is_empty(), "{:?}", audit.faults);
        assert_eq!(audit.verdict, Verdict::SumsCorrectly);
        let level = grade(&audit, GradeCode::LevelDifference);
        assert!((level.value - mismatch_db).abs() < 0.01, "{mismatch_db}: {level:?}");
        assert_eq!(level.within, mismatch_db.abs() < 0.05, "{level:?}");
        assert_eq!(audit.is_within_limits(), level.within);
    }
}

#[test]
fn a_clock_that_is_off_is_found_within_five_parts_per_million() {
    for drift_ppm in [-300.0, -20.0, 3.0, 77.0, 300.0] {
        let mixer =
            Mixer { drift_ppm, lead_frames: 12_345.678, noise_rms: 1e-3, ..Mixer::default() };
        let audit = judge(&record(&mixer));
        println!("{drift_ppm}: {}", audit.alignment.drift_ppm);
        check_alignment(&mixer, &audit, f64::from(RATE_HZ));
        assert!(audit.faults.is_empty(), "{:?}", audit.faults);
    }
}

#[test]
fn a_delay_between_the_channels_is_graded_within_a_tenth_of_a_sample() {
    for delay in [1.0, -1.0, 0.3, 64.0, -480.0, 2_000.5] {
        let mixer = Mixer { channel_delays_frames: [0.0, delay], ..Mixer::default() };
        let audit = judge(&record(&mixer));
        assert!(audit.faults.is_empty(), "{delay}: {:?}", audit.faults);
        let found = grade(&audit, GradeCode::DelayDifference);
        assert!((found.value - delay).abs() < 0.1 && !found.within, "{delay}: {found:?}");
    }
}

/// Faders half a decibel apart, one channel 30 µs late, hum 60 dB down, one per cent of distortion, and
/// a recorder with a clock of its own.
#[test]
fn an_analogue_mixer_is_told_as_it_is() {
    let mixer = Mixer {
        channel_gains: [1.0, 10f64.powf(-0.5 / 20.0)],
        channel_delays_frames: [0.0, 1.44],
        hum_amplitude: 8e-5,
        noise_rms: 1e-5,
        drive: 0.35,
        drift_ppm: 120.0,
        lead_frames: 3_333.3,
        ..Mixer::default()
    };
    let recording = record(&mixer);
    let judge =
        |limits| audit_within(&[&recording], RATE_HZ, USUAL_LEVEL_DBFS, &limits).expect("judged");
    for (limits, is_within) in [(Limits::DIGITAL, false), (Limits::ANALOGUE, true)] {
        let audit = judge(limits);
        assert!(audit.faults.is_empty(), "{:?}", audit.faults);
        assert_eq!(audit.verdict, Verdict::SumsCorrectly, "{}", audit.sentence);
        assert_eq!(audit.is_within_limits(), is_within, "{:?}", audit.grades);
        for told in
            ["Raise feed 2's channel by 0.5", "30.0 µs (1.44 samples) later", "hum of 50 Hz"]
        {
            assert!(audit.sentence.contains(told), "{told}: {}", audit.sentence);
        }
        let outside = audit.sentence.contains("outside the digital limit of 0.05 dB");
        assert_eq!(outside, !is_within, "{}", audit.sentence);
        // tanh(0.35·x)/0.35 makes 0.98 % of a sine that reaches 1.
        let distortion = grade(&audit, GradeCode::Distortion);
        assert!((0.85..1.1).contains(&distortion.value), "{distortion:?}");
    }
}

#[test]
fn either_form_at_any_pace_is_recognised() {
    for (form, slot_s) in [(Form::Short, 6.25), (Form::Short, 32.0), (Form::Full, 6.0)] {
        let schedule = Schedule::with(RATE_HZ, form, slot_s).expect("a pace");
        let feeds = [Feed::One, Feed::Two].map(|feed| feed.all(&schedule, USUAL_LEVEL_DBFS));
        // A cheap recorder.
        let mixer = Mixer {
            drift_ppm: -200.0,
            noise_rms: 3e-4,
            sixteen_bit: true,
            lead_frames: 999.9,
            ..Mixer::default()
        };
        let recording = mixer.record([&feeds[0], &feeds[1]], f64::from(RATE_HZ));
        let audit = judge(&recording);
        assert_eq!((audit.test.form, audit.test.slot_s), (form, slot_s));
        assert_eq!(audit.verdict, Verdict::SumsCorrectly, "{form:?}: {}", audit.sentence);
        assert_eq!(audit.steps.len(), schedule.steps().len());
        assert_eq!(audit.sentence.contains("only the full test tells"), form == Form::Short);
        check_alignment(&mixer, &audit, f64::from(RATE_HZ));
    }
}

#[test]
fn a_channel_of_turned_polarity_is_found() {
    let mixer = Mixer { channel_gains: [1.0, -1.0], ..Mixer::default() };
    assert_eq!(codes(&judge(&record(&mixer))), [FaultCode::PolarityTurned]);
    let mixer = Mixer { gain: -0.5, ..Mixer::default() };
    let audit = judge(&record(&mixer));
    assert!(audit.faults.is_empty());
    assert_eq!(audit.alignment.polarity, Polarity::Inverted);
}

#[test]
fn a_missing_channel_is_found_whichever_it_is() {
    for (channel_gains, feed) in [([1.0, 0.0], 2.0), ([0.0, 1.0], 1.0)] {
        let mixer = Mixer {
            channel_gains,
            noise_rms: 1e-4,
            drift_ppm: 100.0,
            lead_frames: 777.0,
            ..Mixer::default()
        };
        let audit = judge(&record(&mixer));
        assert_eq!(codes(&audit), [FaultCode::MissingChannel], "{:?}", audit.faults);
        assert_eq!(number(&audit, FaultCode::MissingChannel, "feed"), feed);
        assert!((audit.alignment.drift_ppm - 100.0).abs() < 5.0);
        assert!((audit.alignment.delay_s * 48_000.0 - 777.0).abs() < 1.0);
    }
}

#[test]
fn a_bus_that_adds_in_the_wrong_ratio_is_found_with_the_figure() {
    for both_gain in [0.5, std::f64::consts::FRAC_1_SQRT_2, 0.99, 1.05] {
        let mixer = Mixer { both_gain, ..Mixer::default() };
        let audit = judge(&record(&mixer));
        assert_eq!(codes(&audit), [FaultCode::SumRatio], "{both_gain}: {:?}", audit.faults);
        let off_db = number(&audit, FaultCode::SumRatio, "off_db");
        assert!((off_db - 20.0 * both_gain.log10()).abs() < 0.01, "{off_db} for {both_gain}");
    }
}

#[test]
fn clipping_is_found_with_its_level_even_through_a_resampling_recorder() {
    for (clip_dbfs, drift_ppm) in [(-14.5, 0.0), (-15.0, 120.0), (-18.0, 0.0), (-20.5, -50.0)] {
        let clip = 10f64.powf(clip_dbfs / 20.0);
        let mixer = Mixer { clip, drift_ppm, noise_rms: 1e-5, ..Mixer::default() };
        let audit = judge(&record(&mixer));
        assert_eq!(codes(&audit)[0], FaultCode::Clipping, "{clip_dbfs}: {:?}", audit.faults);
        if drift_ppm == 0.0 {
            let level_dbfs = number(&audit, FaultCode::Clipping, "level_dbfs");
            assert!((level_dbfs - clip_dbfs).abs() < 0.1, "{level_dbfs}");
        }
        // Both feeds together reach −14 dBFS.
        let (taken_db, told_db) =
            (-14.0 - clip_dbfs, -number(&audit, FaultCode::Clipping, "top_gain_db"));
        assert!((0.0..taken_db).contains(&told_db), "{told_db} of {taken_db}");
        let sentence = &audit.faults[0].sentence;
        assert!(sentence.contains("come out at least"), "{sentence}");
        assert_eq!(audit.verdict, Verdict::Faulty);
    }
}

#[test]
fn a_converter_filter_is_found_and_leaves_the_sum_correct() {
    let mixer =
        Mixer { band_hz: Some(20_000.0), noise_rms: 1e-5, drift_ppm: 40.0, ..Mixer::default() };
    let audit = judge(&record(&mixer));
    assert_eq!(codes(&audit), [FaultCode::BandLimit], "{:?}", audit.faults);
    let edge_hz = number(&audit, FaultCode::BandLimit, "edge_hz");
    // −3 dB of this filter lies a little below its −6 dB at 20 kHz.
    assert!((19_500.0..20_100.0).contains(&edge_hz), "{edge_hz}");
    assert_eq!(audit.verdict, Verdict::SumsCorrectly);
}

#[test]
fn an_offset_is_called_no_noise() {
    let shifted: Vec<f32> = record(&Mixer::default()).iter().map(|x| x + 0.003).collect();
    let audit = judge(&shifted);
    assert_eq!(audit.verdict, Verdict::SumsCorrectly, "{}", audit.sentence);
    let told = &grade(&audit, GradeCode::NoiseFloor).sentence;
    assert!(told.contains("most of it DC"), "{told}");
}

#[test]
fn loud_noise_and_hum_cry_no_wolf() {
    for noise_dbfs in [-50.0, -40.0, -35.0, -30.0, -25.0] {
        for seed in 0..4 {
            let mixer = Mixer {
                noise_rms: 10f64.powf(noise_dbfs / 20.0),
                hum_amplitude: 10f64.powf(noise_dbfs / 20.0),
                drift_ppm: 50.0 * seed as f64,
                seed,
                ..Mixer::default()
            };
            let audit = judge(&record(&mixer));
            assert!(audit.faults.is_empty(), "{noise_dbfs} dBFS, {seed}: {:?}", audit.faults);
            if noise_dbfs < -45.0 {
                assert_eq!(audit.verdict, Verdict::SumsCorrectly, "{}", audit.sentence);
            }
        }
    }
}

#[test]
fn what_is_graded_and_what_is_found_stand_together() {
    let mixer = Mixer {
        gain: -1.7,
        channel_gains: [1.0, 10f64.powf(-0.4 / 20.0)],
        channel_delays_frames: [0.0, 7.0],
        lead_frames: 30_000.4,
        drift_ppm: -212.0,
        noise_rms: 1e-3,
        hum_amplitude: 3e-3,
        band_hz: Some(20_000.0),
        sixteen_bit: true,
        ..Mixer::default()
    };
    let audit = judge(&record(&mixer));
    assert_eq!(codes(&audit), [FaultCode::BandLimit], "{:?}", audit.faults);
    assert!((grade(&audit, GradeCode::LevelDifference).value + 0.4).abs() < 0.05);
    assert!((grade(&audit, GradeCode::DelayDifference).value - 7.0).abs() < 0.1);
    check_alignment(&mixer, &audit, f64::from(RATE_HZ));
}

#[test]
fn a_stereo_recording_is_judged_whole_or_called_what_it_is() {
    let stereo = |left: &[f32], right: &[f32]| {
        audit(&[left, right], RATE_HZ, USUAL_LEVEL_DBFS).expect("judged")
    };
    let bus = record(&Mixer::default());
    let silence = vec![0.0; bus.len()];
    let turned: Vec<f32> = bus.iter().map(|x| -x).collect();
    for (left, right) in [(&bus, &bus), (&bus, &silence), (&silence, &bus), (&bus, &turned)] {
        let audit = stereo(left, right);
        assert!(audit.faults.is_empty(), "{:?}", audit.faults);
        assert_eq!(audit.verdict, Verdict::SumsCorrectly);
    }
    assert_eq!(codes(&stereo(&FEEDS[0], &FEEDS[1])), [FaultCode::NotSummed]);
    assert_eq!(codes(&stereo(&FEEDS[1], &FEEDS[0])), [FaultCode::FeedsSwapped]);
}

#[test]
fn noise_too_strong_or_a_foreign_sound_gives_no_verdict() {
    let mixer = Mixer { noise_rms: 10f64.powf(-22.0 / 20.0), ..Mixer::default() };
    match audit(&[&record(&mixer)], RATE_HZ, USUAL_LEVEL_DBFS) {
        Ok(audit) => assert_ne!(audit.verdict, Verdict::SumsCorrectly, "{}", audit.sentence),
        Err(error) => println!("{error}"),
    }
    let mut recording = record(&Mixer::default());
    // A tone through step 5 only.
    let start = 4.25 + 4.0 * 4.75;
    let [start, end] = [start, start + 3.5].map(|s| (s * 48_000.0) as usize);
    for (n, x) in recording[start..end].iter_mut().enumerate() {
        *x += 0.05 * (0.4 * n as f32).sin();
    }
    let audit = judge(&recording);
    assert_eq!(audit.verdict, Verdict::CannotTell, "{}", audit.sentence);
    assert!(audit.sentence.contains("step 5"), "{}", audit.sentence);
}

fn refused(recording: &[f32]) -> AuditError {
    match audit(&[recording], RATE_HZ, USUAL_LEVEL_DBFS) {
        Err(error) => {
            println!("{error}");
            error
        }
        Ok(audit) => panic!("judged: {}", audit.sentence),
    }
}

#[test]
fn what_is_no_test_is_refused() {
    assert_eq!(refused(&[]), AuditError::Empty);
    assert_eq!(refused(&vec![0.0; 4_000_000]), AuditError::Silence);
    assert_eq!(refused(&vec![f32::NAN; 4_000_000]), AuditError::Silence);
    assert_eq!(refused(&noise::white(9, 0.5, 4_000_000)), AuditError::NotATest);
    let music: Vec<f32> = (0..4_000_000u32)
        .map(|n| {
            let t = f64::from(n) / 48_000.0;
            let beat = (-8.0 * t.rem_euclid(0.5)).exp();
            let sweep = (500.0 + 3_000.0 * t.rem_euclid(0.5)) * t;
            (0.3 * beat * (std::f64::consts::TAU * sweep).sin()) as f32
        })
        .collect();
    assert_eq!(refused(&music), AuditError::NotATest);
    assert!(matches!(
        audit(&[&FEEDS[0]], 32_000, USUAL_LEVEL_DBFS),
        Err(AuditError::Rate { rate_hz: 32_000 })
    ));
    assert!(matches!(audit(&[], RATE_HZ, -20.0), Err(AuditError::Channels { channels: 0 })));
}

#[test]
fn a_part_of_a_test_is_judged_as_far_as_it_goes() {
    let mixer = Mixer { noise_rms: 1e-4, drift_ppm: 150.0, lead_frames: 100.0, ..Mixer::default() };
    let bus = record(&mixer);
    let frames = |s: f64| (s * f64::from(RATE_HZ)) as usize;
    // (from, to, what is said of what is missing); the first two lack one end's markers alone.
    for (from_s, to_s, said) in [
        (1.9, 82.0, None),
        (0.0, 80.0, None),
        (0.0, 40.0, Some("steps 8 to 16.")),
        (0.0, 22.0, Some("Whether opposite polarities cancel is not judged.")),
        (8.0, 82.0, Some("step 1.")),
        (12.0, 82.0, Some("steps 1 and 2.")),
        (16.0, 82.0, Some("What the same noise on both channels adds is not judged.")),
    ] {
        let audit = judge(&bus[frames(from_s)..frames(to_s).min(bus.len())]);
        assert_eq!(audit.verdict, Verdict::SumsCorrectly, "{from_s} s: {}", audit.sentence);
        assert_eq!(audit.not_judged.is_empty(), said.is_none(), "{:?}", audit.not_judged);
        if let Some(said) = said {
            assert!(audit.sentence.contains(said), "{from_s} to {to_s} s: {}", audit.sentence);
        }
    }
    for (from_s, to_s) in [(0.0, 13.0), (22.0, 82.0)] {
        let audit = judge(&bus[frames(from_s)..frames(to_s).min(bus.len())]);
        assert_eq!(audit.verdict, Verdict::CannotTell, "{}", audit.sentence);
        assert!(audit.sentence.contains("does not follow what feed 2 makes"), "{}", audit.sentence);
    }
    assert!(matches!(refused(&bus[..60_000]), AuditError::OneMarker { .. }));
    assert_eq!(refused(&bus[200_000..3_800_000]), AuditError::NotATest);
}

#[test]
fn a_wrong_rate_a_cut_and_two_tests_are_refused() {
    let bus = record(&Mixer::default());
    // The recording of a mixer at 48 kHz in files that claim other rates.
    for labelled_hz in [44_100, 96_000] {
        let error = audit(&[&bus], labelled_hz, USUAL_LEVEL_DBFS).expect_err("refused");
        println!("{error}");
        assert!(
            matches!(error, AuditError::WrongRate { played_hz: 48_000.0, .. }),
            "{labelled_hz}: {error:?}"
        );
    }
    let mut cut = bus.clone();
    cut.drain(1_000_000..1_100_000);
    assert!(matches!(refused(&cut), AuditError::Edited { .. }));
    let two = [bus.as_slice(), &bus].concat();
    assert!(matches!(refused(&two), AuditError::SeveralTests { .. }));
    let one_alone = record(&Mixer { channel_gains: [1.0, 0.0], ..Mixer::default() });
    let two = [one_alone.as_slice(), &one_alone].concat();
    assert!(matches!(refused(&two), AuditError::SeveralTests { .. }));
}

#[test]
fn a_clipped_marker_is_refused() {
    let recording: Vec<f32> =
        record(&Mixer::default()).iter().map(|x| (40.0 * x).clamp(-1.0, 1.0)).collect();
    assert!(matches!(refused(&recording), AuditError::MarkerClips { .. }));
}
