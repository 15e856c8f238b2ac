//! Room, lift and limiter drive: their arithmetic, and what they say of tones whose peaks are known.

use ledgerline_measure::{Settings, Target, TargetKind, View};
use ledgerline_tests::journal::{as_logged, assert_same};
use ledgerline_tests::readings::{Checks, feed, read_with, stereo_meter};
use ledgerline_tests::signals::tone::{Sine, added};
use ledgerline_tests::signals::{Stereo, amplitude};

const RATE_HZ: f64 = 96_000.0;

fn tone(hz: f64, peak_dbfs: f64) -> Vec<f32> {
    Sine::new(hz, amplitude(peak_dbfs)).faded(RATE_HZ, 4.0, 0.05)
}

/// 1 kHz at −12 dBFS beneath some 31 kHz at −3 dBFS, two frequencies whose samples meet in every
/// phase: the box reads the sum of both amplitudes, the ear −12 dBFS.
fn hidden_tone() -> Stereo {
    Stereo::both(RATE_HZ, added(&tone(1000.0, -12.0), &tone(31_007.3, -3.0)))
}

fn view(kind: TargetKind, value: f64, ceiling_db: f64) -> View {
    View { target: Some(Target { kind, value }), ceiling_db, ..View::default() }
}

#[test]
fn room_true_room_and_withheld_follow_the_ceiling_and_the_peaks() {
    let peak_db = 20.0 * (amplitude(-12.0) + amplitude(-3.0)).log10();
    for ceiling_db in [-1.0, 0.0, -9.0] {
        let view = view(TargetKind::Loudness, -23.0, ceiling_db);
        let room = read_with(&hidden_tone(), Settings::default(), &view).room;
        let mut checks = Checks::of(
            format!("1 kHz under 31 kHz, ceiling {ceiling_db}"),
            "the definitions of room, true room and withheld",
        );
        checks.number("ceiling_db", Some(room.ceiling_db), ceiling_db, 0.0);
        checks.level("room_db", room.room_db, ceiling_db - peak_db, 0.01);
        checks.level("true_room_db", room.true_room_db, ceiling_db + 12.0, 0.03);
        checks.level("withheld_db", room.withheld_db, 12.0 + peak_db, 0.03);
    }
}

#[test]
fn withheld_is_signed_where_the_waveform_rises_between_samples() {
    // fs/4 at 45°: samples at 0.7071 of the amplitude; the meter claims 3.01 dB too much room.
    let sine = Sine::new(12_000.0, amplitude(-6.0)).at_phase(45.0).faded(48_000.0, 2.0, 0.05);
    let signal = Stereo::both(48_000.0, sine);
    let room = read_with(&signal, Settings::default(), &View::default()).room;
    let mut checks = Checks::of("fs/4 at 45°", "closed form of its sample peak");
    checks.level("room_db", room.room_db, -1.0 + 9.0103, 0.001);
    checks.level("true_room_db", room.true_room_db, 5.0, 0.04);
    checks.level("withheld_db", room.withheld_db, -3.0103, 0.04);
}

#[test]
fn lift_is_the_way_to_the_target_and_ends_at_the_true_room() {
    // Levels of the audible tone: −12 dBTP, −15.01 dBFS RMS, −12.0 LUFS, less its fades.
    for (kind, value, lift_db, allowed_db) in [
        (TargetKind::Loudness, -9.0, 3.0, 3.0),
        (TargetKind::Loudness, 5.0, 17.0, 11.0),
        (TargetKind::Loudness, -23.0, -11.0, -11.0),
        (TargetKind::Rms, -10.0, 5.01, 5.01),
        (TargetKind::Rms, 0.0, 15.01, 11.0),
        (TargetKind::Peak, -6.0, 6.0, 6.0),
        (TargetKind::Peak, 0.0, 12.0, 11.0),
    ] {
        let room = read_with(&hidden_tone(), Settings::default(), &view(kind, value, -1.0)).room;
        let mut checks = Checks::of(
            format!("1 kHz at −12 dBFS, target {value} ({kind:?})"),
            "target less audible level, no more than the true room",
        );
        checks.level("lift_db", room.lift_db, lift_db, 0.15);
        checks.level("lift_allowed_db", room.lift_allowed_db, allowed_db, 0.15);
        let exact = room.lift_db.db().zip(room.true_room_db.db()).map(|(l, t)| l.min(t));
        let smaller = exact.unwrap_or(f64::NAN);
        checks.level("the smaller of both", room.lift_allowed_db, smaller, 1e-9);
    }
}

#[test]
fn limiter_drive_is_what_a_steady_peak_stands_above_the_ceiling() {
    for hz in [40.0, 997.0, 9_000.0] {
        let reading = read_with(
            &Stereo::both(RATE_HZ, tone(hz, -0.2)),
            Settings::default(),
            &View::default(),
        );
        let mut checks =
            Checks::of(format!("{hz} Hz, 0.8 dB over the ceiling"), "an ideal limiter");
        checks.level("whole_db", reading.limiter.whole_db, 0.8, 0.02);
    }
    let square: Vec<f32> =
        (0..4 * RATE_HZ as usize).map(|i| if (i / 48) % 2 == 0 { 0.9 } else { -0.9 }).collect();
    let mut checks = Checks::of("square wave at −0.92 dBFS", "20·log10(peak / ceiling)");
    for ceiling_db in [-1.0, -4.0, -12.0, 0.0] {
        let mut meter = stereo_meter(RATE_HZ, Settings::default());
        meter.set_ceiling_db(ceiling_db);
        feed(&mut meter, &Stereo::both(RATE_HZ, square.clone()));
        meter.finish();
        let limiter = meter.reading(&View { ceiling_db, ..View::default() }).limiter;
        let expected = (-0.9151 - ceiling_db).max(0.0);
        checks.level(&format!("whole_db at {ceiling_db}"), limiter.whole_db, expected, 0.005);
    }
}

#[test]
fn a_limiter_works_on_hidden_content_and_the_difference_says_so() {
    let run = |signal: &Stereo| {
        let mut meter = stereo_meter(RATE_HZ, Settings::default());
        meter.set_ceiling_db(-6.0);
        feed(&mut meter, signal);
        meter.finish();
        meter.reading(&View { ceiling_db: -6.0, ..View::default() }).limiter
    };
    let hidden = run(&hidden_tone());
    let mut checks = Checks::of("1 kHz under 31 kHz, ceiling −6 dBFS", "an ideal limiter");
    // The two amplitudes meet in every phase.
    let peak_db = 20.0 * (amplitude(-12.0) + amplitude(-3.0)).log10();
    checks.level("whole_db", hidden.whole_db, peak_db + 6.0, 0.02);
    checks.level("audible_db", hidden.audible_db, 0.0, 0.0);
    let difference = hidden.whole_db.minus(hidden.audible_db).db().unwrap_or(f64::NAN);
    checks.level("hidden_db", hidden.hidden_db, difference, 1e-9);
    // All of it is heard: nothing is spent on hidden content.
    let audible = run(&Stereo::both(RATE_HZ, tone(1000.0, -1.0)));
    let mut checks = Checks::of("1 kHz at −1 dBFS, ceiling −6 dBFS", "an ideal limiter");
    checks.level("whole_db", audible.whole_db, 5.0, 0.01);
    checks.level("hidden_db", audible.hidden_db, 0.0, 0.02);
}

#[test]
fn a_reading_can_be_aimed_anew_without_the_meter() {
    let mut meter = stereo_meter(RATE_HZ, Settings::default());
    feed(&mut meter, &hidden_tone());
    let before = meter.reading(&view(TargetKind::Loudness, -23.0, -1.0));
    for other in [
        view(TargetKind::Loudness, -9.0, -1.0),
        view(TargetKind::Rms, -30.0, -3.0),
        view(TargetKind::Peak, -6.0, -24.0),
    ] {
        let aimed = before.aimed_at(&other, Settings::default().edges);
        assert_ne!(aimed.room, before.room);
        assert_same(&as_logged(&aimed), &as_logged(&meter.reading(&other)));
    }
}
