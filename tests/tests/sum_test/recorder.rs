//! What the recorder did is not laid at the mixer's door: few bits, lost samples, lossy coding; and a
//! gain that moves is the mixer's.

use std::f64::consts::TAU;
use std::process::Command;
use std::sync::LazyLock;

use ledgerline_measure::sum_test::{Audit, FaultCode, audit};
use ledgerline_measure::sum_test::{Feed, Schedule, USUAL_LEVEL_DBFS, Verdict};
use ledgerline_tests::command::ledgerline;
use ledgerline_tests::folder::Folder;
use ledgerline_tests::wav;
use serde_json::Value;

const RATE_HZ: u32 = 48_000;

/// Both feeds, added at unity.
static BUS: LazyLock<Vec<f32>> = LazyLock::new(|| {
    let schedule = Schedule::new(RATE_HZ).expect("a rate at which the test plays");
    let [one, two] = [Feed::One, Feed::Two].map(|feed| feed.all(&schedule, USUAL_LEVEL_DBFS));
    one.iter().zip(&two).map(|(x, y)| x + y).collect()
});

fn judge(channels: &[&[f32]]) -> Audit {
    audit(channels, RATE_HZ, USUAL_LEVEL_DBFS)
        .unwrap_or_else(|error| panic!("the recording can be judged, but: {error}"))
}

fn frame(time_s: f64) -> usize {
    (time_s * f64::from(RATE_HZ)) as usize
}

#[test]
fn a_quiet_recording_of_few_bits_is_not_called_clipped() {
    for (bits, gain_db) in
        [(16, -35.0), (16, -40.0), (16, -50.0), (16, -60.0), (12, -30.0), (8, -10.0)]
    {
        let codes = 2f32.powi(bits - 1);
        let gain = 10f32.powf(gain_db / 20.0);
        let rounded: Vec<f32> = BUS.iter().map(|x| (x * gain * codes).round() / codes).collect();
        let audit = judge(&[&rounded]);
        println!("{bits} bits, {gain_db} dB: {}", audit.sentence);
        assert!(audit.faults.is_empty(), "{bits} bits, {gain_db} dB: {:?}", audit.faults);
        // Above thirty codes rounding is no matter.
        if 0.1 * gain * codes > 30.0 {
            assert_eq!(audit.verdict, Verdict::SumsCorrectly, "{bits}, {gain_db}");
        }
    }
}

/// The recording with `frames` samples played twice before this time, or as many lost after it.
fn slipped(signal: &[f32], at_s: f64, frames: i64) -> Vec<f32> {
    let at = frame(at_s);
    let next = at.checked_add_signed(-frames as isize).expect("inside the recording");
    [&signal[..at], &signal[next..]].concat()
}

#[test]
fn samples_lost_or_repeated_by_the_recorder_are_one_finding_that_says_where() {
    // In steps with noise of either feed or both, in the null, in tones, in silence.
    let cases = [
        (5.7, -1, Some(1)),
        (10.2, 1, Some(2)),
        (15.0, -1, Some(3)),
        (20.3, -1, None),
        (24.5, -64, Some(5)),
        (34.5, 256, Some(7)),
        (58.0, -1, Some(12)),
        (8.5, -1, None),
    ];
    let late: Vec<f32> = std::iter::repeat_n(0.0, 48).chain(BUS.iter().copied()).collect();
    for (at_s, frames, step) in cases {
        let left = slipped(&BUS, at_s, frames);
        // The right side 1 ms late: two peaks of one height.
        let right = slipped(&late[..BUS.len()], at_s, frames);
        for channels in [&[&left[..]][..], &[&left[..], &right[..]]] {
            let audit = judge(channels);
            let codes: Vec<FaultCode> = audit.faults.iter().map(|fault| fault.code).collect();
            assert_eq!(codes, [FaultCode::RecorderSlip], "{at_s} s: {:?}", audit.faults);
            let fault = &audit.faults[0];
            assert_eq!(fault.numbers["frames"] as i64, frames, "{fault:?}");
            let [from_s, to_s] = ["from_s", "to_s"].map(|key| fault.numbers[key]);
            assert!(from_s - 0.002 < at_s && at_s < to_s + 0.002, "{at_s}: {fault:?}");
            match step {
                Some(step) => assert!(fault.sentence.contains(&format!("(in step {step})"))),
                None => assert!(fault.sentence.contains("between"), "{}", fault.sentence),
            }
            assert_eq!(audit.verdict, Verdict::SumsCorrectly);
        }
    }
}

#[test]
fn several_slips_are_told_together() {
    let audit = judge(&[&slipped(&slipped(&BUS, 35.0, 3), 15.0, -1)]);
    assert_eq!(audit.faults.len(), 1, "{:?}", audit.faults);
    let sentence = &audit.faults[0].sentence;
    assert!(sentence.contains("lost 1 sample at 0:15.0"), "{sentence}");
    assert!(sentence.contains("repeated 3 samples at 0:35.0"), "{sentence}");
}

#[test]
fn a_gain_that_moves_is_found() {
    for (hz, amplitude_db) in [(0.7, 1.5), (3.0, 0.25), (4.0, 0.25)] {
        let moved: Vec<f32> = BUS
            .iter()
            .enumerate()
            .map(|(n, x)| {
                let turn = TAU * hz * n as f64 / f64::from(RATE_HZ);
                (f64::from(*x) * 10f64.powf(amplitude_db * turn.sin() / 20.0)) as f32
            })
            .collect();
        let audit = judge(&[&moved]);
        let found = audit.faults.iter().any(|fault| fault.code == FaultCode::Modulation);
        assert!(found, "{hz} Hz: {:?}", audit.faults);
        assert_eq!(audit.verdict, Verdict::Faulty);
    }
}

#[test]
#[ignore = "needs ffmpeg"]
fn a_lossy_recording_is_not_judged_finer_than_it_is() {
    let folder = Folder::new("audit-lossy");
    let exact = folder.path("exact.wav");
    wav::write(&exact, RATE_HZ, &[&BUS, &BUS]);
    let cases = [
        ("64.m4a", "aac", "64k"),
        ("128.m4a", "aac", "128k"),
        ("192.m4a", "aac", "192k"),
        ("256.m4a", "aac", "256k"),
        ("128.mp3", "libmp3lame", "128k"),
        ("320.mp3", "libmp3lame", "320k"),
        ("96.ogg", "libvorbis", "96k"),
        ("192.ogg", "libvorbis", "192k"),
    ];
    for (name, codec, rate) in cases {
        let path = folder.path(name);
        let output = Command::new("ffmpeg")
            .args(["-v", "error", "-y", "-i", &exact, "-c:a", codec, "-b:a", rate, &path])
            .output()
            .expect("ffmpeg, from the package of that name");
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let (_, json) = ledgerline(&["audit", &path, "--json"]);
        let record: Value = serde_json::from_str(&json).expect("JSON");
        println!("{name}: {}", record["sentence"]);
        let faults = record["faults"].as_array().expect("faults");
        // Where a codec ends the band, the path does end.
        assert!(faults.iter().all(|fault| fault["code"] == "band_limit"), "{name}: {faults:?}");
        assert_ne!(record["verdict"], "faulty", "{name}");
        if rate.len() < 4 {
            assert_eq!(record["verdict"], "cannot_tell", "{name}");
        }
    }
}

#[test]
fn a_hole_is_told_with_its_place_and_its_step_left_out() {
    let mut recording = BUS.clone();
    let at = frame(10.5);
    recording[at..at + 480].fill(0.0);
    let audit = judge(&[&recording]);
    assert_eq!(audit.verdict, Verdict::SumsCorrectly, "{}", audit.sentence);
    assert!(
        audit.sentence.contains("is silent for 10.0 ms at 0:10.500, while step 2 plays"),
        "{}",
        audit.sentence
    );
    assert!(audit.grades.iter().all(|grade| grade.action.is_none()), "{}", audit.sentence);
    assert!(audit.steps.iter().all(|step| step.step != 2));
}

#[test]
fn values_that_are_no_samples_are_told() {
    let mut recording = BUS.clone();
    recording[frame(2.5)] = f32::NAN;
    recording[frame(11.0)] = f32::INFINITY;
    let audit = judge(&[&recording]);
    let told = "2 values of the recording are no sample (the first at 0:02.500)";
    assert!(audit.not_judged[0].starts_with(told), "{:?}", audit.not_judged);
}
