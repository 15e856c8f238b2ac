//! The benchmark's track: what the ledger says about it, against what it was built to be and against
//! its stems.

use std::sync::LazyLock;

use ledgerline_measure::verdict::Code;
use ledgerline_measure::{Edges, Level, Reading, Settings, Target, View};
use ledgerline_tests::formulas::{peak_dbfs, rms_dbfs};
use ledgerline_tests::readings::{Checks, read, read_with};
use ledgerline_tests::signals::bench_mix::{self, ENGINE_HZ, IDLE_TONE_HZ, Stems};
use ledgerline_tests::signals::tone::added;
use ledgerline_tests::signals::{Stereo, frames};

static MIX: LazyLock<Stereo> = LazyLock::new(bench_mix::play);
static STEMS: LazyLock<Stems> = LazyLock::new(bench_mix::stems);
static READING: LazyLock<Reading> = LazyLock::new(|| {
    let view = View { target: Some(Target::default()), ..View::default() };
    read_with(&MIX, Settings::default(), &view)
});

#[test]
fn a_meter_sees_no_room_and_the_ledger_8_db() {
    let reading = &*READING;
    let mut checks = Checks::of("bench mix", "what the scenario is built to be");
    let whole = &reading.whole.bus;
    let audible = &reading.audible.bus;
    checks.level("whole sample peak", whole.sample_peak_dbfs, -0.95, 0.15);
    checks.that(whole.overs == Some(0), "no overs", whole.overs);
    checks.level("audible integrated", audible.integrated_lufs, -28.0, 1.0);
    checks.level("audible true peak", audible.true_peak_dbtp, -9.1, 0.4);
    checks.level("room", reading.room.room_db, 0.0, 0.2);
    checks.level("true room", reading.room.true_room_db, 8.1, 0.4);
    checks.level("withheld", reading.room.withheld_db, 8.1, 0.4);
    checks.level("lift", reading.room.lift_db, 5.0, 1.0);
    let shortfall = reading.room.lift_allowed_db.minus(reading.room.lift_db);
    checks.level("all of the lift is allowed", shortfall, 0.0, 0.0);
    // A loudness meter on the whole band reads the hiss as well.
    let misread = whole.integrated_lufs.minus(audible.integrated_lufs);
    checks.level("loudness of the hidden content", misread, 12.0, 1.5);
}

#[test]
fn the_verdict_begins_with_the_room_withheld() {
    let codes: Vec<Code> = READING.findings.as_slice().iter().map(|f| f.code).collect();
    let mut checks = Checks::of("bench mix", "what the scenario is built to be");
    checks.that(codes.first() == Some(&Code::RoomWithheld), "room withheld first", &codes);
    checks.that(codes.contains(&Code::LoudnessReadsHidden), "loudness reads hidden", &codes);
    checks.that(!codes.contains(&Code::Overs), "no overs", &codes);
    // The tone above is why room is withheld, the one below is the rumble: neither is told again.
    for code in [Code::HiddenTone, Code::Dc, Code::LimiterOnHidden] {
        checks.that(!codes.contains(&code), "one finding for one fact", &codes);
    }
    let without_target = READING.aimed_at(&View::default(), Edges::default()).findings;
    let without_target = without_target.as_slice().iter();
    let lifts = [Code::LiftFree, Code::LiftLimited, Code::AboveTarget];
    let without_target: Vec<Code> = without_target.map(|finding| finding.code).collect();
    checks.that(
        codes.iter().any(|code| lifts.contains(code))
            && !without_target.iter().any(|code| lifts.contains(code)),
        "a lift only where there is a target",
        (&codes, without_target),
    );
}

#[test]
fn hidden_content_is_what_the_stems_hold() {
    let stems = &*STEMS;
    let hidden = &READING.hidden;
    let mut checks = Checks::of("bench mix", "sums over the stems in f64");
    let both = |stem: &Stereo| rms_dbfs(&[stem.left.as_slice(), &stem.right].concat());
    // All that the de-noiser left lies above; the other stems hardly reach there.
    checks.level("above", hidden.above_dbfs, both(&stems.denoiser), 0.05);
    let share = |level: Level| level.power().map(|p| p / 10f64.powf(both(&MIX) / 10.0));
    checks.number(
        "above share",
        hidden.above_share,
        share(hidden.above_dbfs).unwrap_or(f64::NAN),
        0.01,
    );
    checks.number(
        "below share",
        hidden.below_share,
        share(hidden.below_dbfs).unwrap_or(f64::NAN),
        0.01,
    );
    let shares = [hidden.above_share, hidden.below_share, hidden.dc_share, hidden.audible_share];
    let total = shares.into_iter().sum::<Option<f64>>();
    checks.number("all shares", total, 1.0, 1e-9);
    let tones = hidden.tones.as_slice();
    let find = |hz: f64| tones.iter().find(|tone| (tone.hz - hz).abs() < 0.02 * hz + 1.0);
    let idle = find(IDLE_TONE_HZ).copied().unwrap_or_default();
    checks.number("idle tone, Hz", Some(idle.hz), IDLE_TONE_HZ, 2.0);
    // −25 dBFS peak, after a fade of 3 s out of 60.
    checks.level("idle tone", idle.dbfs, -28.01 - 0.15, 0.2);
    let engine = find(ENGINE_HZ).copied().unwrap_or_default();
    checks.number("engine, Hz", Some(engine.hz), ENGINE_HZ, 0.5);
    checks.level("engine", engine.dbfs, hidden.below_dbfs.db().unwrap_or(f64::NAN), 1.0);
}

#[test]
fn the_mix_is_the_sum_of_its_stems_and_the_same_every_time() {
    let stems = &*STEMS;
    let all = [&stems.voice, &stems.ambience, &stems.engine, &stems.denoiser];
    let sum = all.iter().fold(vec![0.0; MIX.frames()], |sum, stem| added(&sum, &stem.left));
    let residue: Vec<f32> = sum.iter().zip(&MIX.left).map(|(a, b)| a - b).collect();
    let mut checks = Checks::of("bench mix less its stems", "rounding to single precision");
    checks.that(peak_dbfs(&residue) < -120.0, "a residue below −120 dBFS", peak_dbfs(&residue));
    let start = MIX.cut(0..frames(bench_mix::RATE_HZ, 2.0));
    checks.that(bench_mix::play_for(2.0) == start, "the same samples again", ());
}

#[test]
fn the_spaced_pair_hears_low_sounds_alike_and_high_ones_apart() {
    let ambience = &STEMS.ambience;
    let mut checks = Checks::of("bench ambience", "what the scenario is built to be");
    let r = read(ambience).audible.halves.correlation;
    checks.number("correlation", r, 0.45, 0.2);
}
