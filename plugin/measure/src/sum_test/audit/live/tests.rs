//! The live test against the audit of the same samples as a recording.

use super::*;
use crate::level::Level;
use crate::sum_test::audit::audit;
use crate::sum_test::feed::Feed;
use crate::sum_test::record::{Measure, StepRecord, Verdict};

const RATE_HZ: u32 = 48_000;
const LEVEL_DBFS: f64 = -20.0;

fn feeds() -> [Vec<f32>; 2] {
    let schedule = Schedule::new(RATE_HZ).unwrap();
    [Feed::One, Feed::Two].map(|feed| feed.all(&schedule, LEVEL_DBFS))
}

fn sum(one: f32, two: f32) -> Vec<f32> {
    let [first, second] = feeds();
    first.iter().zip(&second).map(|(x, y)| one * x + two * y).collect()
}

fn play(test: &mut LiveTest, from: usize, channels: &[&[f32]], block: usize) {
    let frames = channels[0].len();
    let mut start = from;
    while start < frames {
        let end = frames.min(start + block);
        let pieces: Vec<&[f32]> = channels.iter().map(|channel| &channel[start..end]).collect();
        test.process(start as i64, &pieces);
        start = end;
    }
}

fn text(value: &impl std::fmt::Debug) -> String {
    format!("{value:#?}")
}

/// Panics unless every detector read the same. Where a step lies, a recording knows only to a part
/// of a sample.
fn assert_same_steps(live: &[StepRecord], recorded: &[StepRecord]) {
    assert_eq!(live.len(), recorded.len());
    for (live, recorded) in live.iter().zip(recorded) {
        assert_eq!((live.step, live.name), (recorded.step, recorded.name));
        assert!((live.start_s - recorded.start_s).abs() < 1e-6);
        assert!((live.end_s - recorded.end_s).abs() < 1e-6);
        for (band, detectors) in &live.bands {
            for (detector, live_measure) in detectors {
                let measure = &recorded.bands[band][detector];
                let what = format!("step {}, {band}, {detector}", live.step);
                assert_same_measure(live_measure, measure, &what);
            }
        }
    }
}

/// Panics unless both are the same number but for rounding: detectors sum slice by slice, and
/// slices differ.
fn assert_same_measure(live: &Measure, recorded: &Measure, what: &str) {
    let same = |x: Level, y: Level| x == y || x.minus(y).db().is_some_and(|db| db.abs() < 1e-6);
    assert!(
        same(live.level_dbfs, recorded.level_dbfs)
            && same(live.change_db, recorded.change_db)
            && live.expected_db == recorded.expected_db
            && live.tolerance_db == recorded.tolerance_db
            && live.within == recorded.within,
        "{what}: {live:?}, in the recording {recorded:?}"
    );
}

#[test]
fn steps_faults_and_verdict_are_those_of_the_recording() {
    for (one, two) in [(1.0, 1.0), (0.7, 0.7), (1.0, 0.9), (1.0, 0.0)] {
        let bus = sum(one, two);
        let recorded = audit(&[&bus, &bus], RATE_HZ, LEVEL_DBFS).unwrap();
        for block in [64, 1000] {
            let mut live = LiveTest::new(RATE_HZ).unwrap();
            play(&mut live, 0, &[&bus, &bus], block);
            let concluded = live.conclude(LEVEL_DBFS).unwrap();
            assert_same_steps(&concluded.steps, &recorded.steps);
            assert_eq!(concluded.recording.floor_dbfs, recorded.recording.floor_dbfs);
            let codes = |audit: &crate::sum_test::Audit| {
                audit.faults.iter().map(|fault| fault.code).collect::<Vec<_>>()
            };
            assert_eq!(codes(&concluded), codes(&recorded), "{one}, {two}");
            assert_eq!(concluded.verdict, recorded.verdict);
            let gain = |audit: &crate::sum_test::Audit| audit.alignment.gain_db.finite().unwrap();
            assert!((gain(&concluded) - gain(&recorded)).abs() < 1e-3);
        }
    }
}

#[test]
fn feeds_left_and_right_are_not_summed() {
    let [one, two] = feeds();
    let mut live = LiveTest::new(RATE_HZ).unwrap();
    play(&mut live, 0, &[&one, &two], 512);
    let concluded = live.conclude(LEVEL_DBFS).unwrap();
    assert_eq!(concluded.verdict, Verdict::Faulty);
    assert!(concluded.sentence.contains("nothing is summed"), "{}", concluded.sentence);
}

#[test]
fn a_jump_interrupts_and_the_beginning_starts_afresh() {
    let bus = sum(1.0, 1.0);
    let mut live = LiveTest::new(RATE_HZ).unwrap();
    assert_eq!(live.shown().state, LiveState::Waiting);
    play(&mut live, 700_000, &[&bus[..720_000]], 512);
    assert_eq!(live.shown().state, LiveState::Waiting, "not from the middle");
    play(&mut live, 0, &[&bus[..1_000_000]], 512);
    assert_eq!((live.shown().state, live.shown().steps_done()), (LiveState::Running, 3));
    play(&mut live, 1_100_000, &[&bus], 512);
    assert_eq!((live.shown().state, live.shown().steps_done()), (LiveState::Interrupted, 3));
    assert!(live.shown().sentence().contains("step 4"), "{}", live.shown().sentence());
    assert_eq!(live.conclude(LEVEL_DBFS).err(), Some(LiveError::Incomplete));

    play(&mut live, 0, &[&bus], 512);
    assert_eq!((live.shown().state, live.shown().run), (LiveState::Complete, 2));
    let mut fresh = LiveTest::new(RATE_HZ).unwrap();
    play(&mut fresh, 0, &[&bus], 512);
    assert_eq!(text(&live.shown().steps()), text(&fresh.shown().steps()), "something stayed");
    // Past the end, and anywhere else, a complete test stays as it is.
    play(&mut live, 500_000, &[&bus[..600_000]], 512);
    assert_eq!(live.shown().state, LiveState::Complete);
}

#[test]
fn a_stop_in_the_middle_interrupts() {
    let bus = sum(1.0, 1.0);
    let mut live = LiveTest::new(RATE_HZ).unwrap();
    play(&mut live, 0, &[&bus[..800_000]], 512);
    live.stop();
    assert_eq!(live.shown().state, LiveState::Interrupted);
    play(&mut live, 800_000, &[&bus], 512);
    assert_eq!(live.shown().state, LiveState::Interrupted);
}

#[test]
fn silence_other_sound_and_a_late_bus_get_no_verdict() {
    let schedule = Schedule::new(RATE_HZ).unwrap();
    let length = schedule.length_frames() as usize;
    let judged = |bus: &[f32]| {
        let mut live = LiveTest::new(RATE_HZ).unwrap();
        play(&mut live, 0, &[bus], 4096);
        live.conclude(LEVEL_DBFS).map(|audit| audit.sentence)
    };
    assert_eq!(judged(&vec![0.0; length]), Err(LiveError::Silence));
    let other: Vec<f32> =
        (0..length as u64).map(|n| 0.1 * crate::sum_test::uniform(7, n) as f32).collect();
    assert_eq!(judged(&other), Err(LiveError::NotTheTest));
    let tone: Vec<f32> = (0..length).map(|n| 0.1 * (n as f32 * 0.05).sin()).collect();
    assert_eq!(judged(&tone), Err(LiveError::NotTheTest));
    let mut late = vec![0.0; 4800];
    late.extend(sum(1.0, 1.0));
    let Err(LiveError::OffTransport { delay_s }) = judged(&late[..length]) else {
        panic!("{:?}", judged(&late[..length]));
    };
    assert!((delay_s - 0.1).abs() < 1e-4, "{delay_s}");
}
