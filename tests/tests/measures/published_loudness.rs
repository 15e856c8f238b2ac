//! Loudness and loudness range against the signals that ITU-R BS.1770, EBU Tech 3341 and EBU Tech
//! 3342 define, in the whole and in the audible band.

use ledgerline_measure::reading::{BandReading, BandWindows, Levels};
use ledgerline_measure::{Level, Reading, Settings, View};
use ledgerline_tests::formulas::RATES_HZ;
use ledgerline_tests::readings::{Checks, Live, read, read_channels, read_on, stereo_meter};
use ledgerline_tests::signals::ebu::{self, OFFSETS, Segment, segment};
use ledgerline_tests::signals::tone::{Sine, silence};
use ledgerline_tests::signals::{Stereo, frames};

const RATE_HZ: f64 = 48_000.0;
const TECH_3341: &str = "EBU Tech 3341 (2023), Table 1";
const TECH_3342: &str = "EBU Tech 3342 (2023), Table 1";
/// Tolerance of Tech 3341 for loudness, in LU.
const TOLERANCE_LU: f64 = 0.1;

/// Both bands of a reading, by name.
fn bands(reading: &Reading) -> [(&'static str, &BandReading, &BandWindows); 2] {
    [
        ("whole", &reading.whole, &reading.windows.whole),
        ("audible", &reading.audible, &reading.windows.audible),
    ]
}

#[test]
fn a_full_scale_997_hz_sine_in_one_channel_reads_minus_3_01_lkfs_at_every_rate() {
    const EXPECTED_LKFS: f64 = -3.0103;
    for rate_hz in RATES_HZ.into_iter().chain([384_000.0, 768_000.0]) {
        let sine = Sine::new(997.0, 1.0).play(rate_hz, 3.0);
        for left in [true, false] {
            let (on, off) = (sine.clone(), silence(rate_hz, 3.0));
            let signal =
                if left { Stereo::new(rate_hz, on, off) } else { Stereo::new(rate_hz, off, on) };
            let reading = read(&signal);
            let mut checks = Checks::of(
                format!("997 Hz, 0 dBFS, left {left}, at {rate_hz} Hz"),
                "ITU-R BS.1770-5, Annex 1",
            );
            // 0.01 dB is how closely the weighting follows the 48 kHz response at other rates; the
            // audible band may add its pass band's 0.02 dB.
            for ((name, band, _), tolerance_db) in bands(&reading).into_iter().zip([0.01, 0.03]) {
                let half = if left { &band.a } else { &band.b };
                let levels = [("half", half), ("bus", &band.bus), ("sum", &band.sum)];
                for (of, levels) in levels {
                    let what = format!("{name} {of} integrated_lufs");
                    checks.level(&what, levels.integrated_lufs, EXPECTED_LKFS, tolerance_db);
                }
            }
        }
    }
}

#[test]
fn cases_1_to_5_read_the_integrated_loudness_of_the_table() {
    for (case, expected_lufs) in [(1, -23.0), (2, -33.0), (3, -23.0), (4, -23.0), (5, -23.0)] {
        let reading = read(&ebu::play(RATE_HZ, &ebu::integrated_case(case)));
        let mut checks = Checks::of(format!("case {case}"), TECH_3341);
        for (name, band, windows) in bands(&reading) {
            let mut check = |what: &str, level| {
                checks.level(&format!("{name} {what}"), level, expected_lufs, TOLERANCE_LU);
            };
            check("integrated_lufs", band.bus.integrated_lufs);
            if case <= 2 {
                check("momentary_max_lufs", windows.bus.momentary_max_lufs);
                check("short_term_max_lufs", windows.bus.short_term_max_lufs);
            }
        }
    }
}

#[test]
fn case_6_weighs_the_surround_channels() {
    let (roles, levels): (Vec<_>, Vec<_>) = ebu::case_6().into_iter().unzip();
    let channel = |peak_dbfs| ebu::play(RATE_HZ, &[segment(peak_dbfs, 20.0)]).left;
    let channels: Vec<_> = levels.into_iter().map(channel).collect();
    let reading = read_channels(RATE_HZ, &roles, &channels);
    let mut checks = Checks::of("case 6", TECH_3341);
    for (name, band, _) in bands(&reading) {
        let what = format!("{name} integrated_lufs");
        checks.level(&what, band.bus.integrated_lufs, -23.0, TOLERANCE_LU);
    }
}

#[test]
fn cases_1_and_2_read_momentary_and_short_term_loudness_while_they_play() {
    for (case, expected_lufs) in [(1, -23.0), (2, -33.0)] {
        let signal = ebu::play(RATE_HZ, &ebu::integrated_case(case));
        let reading = Live::new(&signal).reading_at(frames(RATE_HZ, 15.0));
        let mut checks = Checks::of(format!("case {case}, playing"), TECH_3341);
        for (name, band, _) in bands(&reading) {
            let momentary = band.bus.momentary_lufs;
            checks.level(&format!("{name} momentary"), momentary, expected_lufs, TOLERANCE_LU);
            let short_term = band.bus.short_term_lufs;
            checks.level(&format!("{name} short term"), short_term, expected_lufs, TOLERANCE_LU);
        }
    }
}

/// Plays a case and checks one of its levels every `step_s` from `settle_s` on.
fn stays_at_minus_23(
    case: &str,
    segments: &[Segment],
    (settle_s, step_s): (f64, f64),
    level: fn(&Levels) -> Level,
) {
    let signal = ebu::play(RATE_HZ, segments);
    let mut live = Live::new(&signal);
    let mut checks = Checks::of(case, TECH_3341);
    for end in (frames(RATE_HZ, settle_s)..=signal.frames()).step_by(frames(RATE_HZ, step_s)) {
        let reading = live.reading_at(end);
        for (name, band, _) in bands(&reading) {
            let what = format!("{name} at {:.2} s", end as f64 / RATE_HZ);
            checks.level(&what, level(&band.bus), -23.0, TOLERANCE_LU);
        }
    }
}

#[test]
fn case_9_keeps_short_term_loudness_constant_after_3_s() {
    stays_at_minus_23("case 9", &ebu::case_9(), (3.0, 0.05), |bus| bus.short_term_lufs);
}

#[test]
fn case_12_keeps_momentary_loudness_constant_after_1_s() {
    stays_at_minus_23("case 12", &ebu::case_12(), (1.0, 0.01), |bus| bus.momentary_lufs);
}

#[test]
fn cases_10_and_13_reach_the_same_maximum_wherever_the_tone_begins() {
    let mut meter = stereo_meter(RATE_HZ, Settings::default());
    for offset in 0..OFFSETS {
        let view = View::default();
        let ten = read_on(&mut meter, &ebu::play(RATE_HZ, &ebu::case_10(offset)), &view);
        let mut checks = Checks::of(format!("case 10, file {offset}"), TECH_3341);
        for (name, _, windows) in bands(&ten) {
            let what = format!("{name} short_term_max_lufs");
            checks.level(&what, windows.bus.short_term_max_lufs, -23.0, TOLERANCE_LU);
        }
        let thirteen = read_on(&mut meter, &ebu::play(RATE_HZ, &ebu::case_13(offset)), &view);
        let mut checks = Checks::of(format!("case 13, file {offset}"), TECH_3341);
        for (name, _, windows) in bands(&thirteen) {
            let what = format!("{name} momentary_max_lufs");
            checks.level(&what, windows.bus.momentary_max_lufs, -23.0, TOLERANCE_LU);
        }
    }
}

#[test]
fn cases_11_and_14_climb_by_1_lu_in_turn_while_they_play() {
    let all = |case: fn(usize) -> Vec<Segment>| {
        let segments: Vec<Segment> = (0..OFFSETS).flat_map(case).collect();
        ebu::play(RATE_HZ, &segments)
    };
    let (eleven, fourteen) = (all(ebu::case_11), all(ebu::case_14));
    let (mut long, mut short) = (Live::new(&eleven), Live::new(&fourteen));
    for offset in 0..OFFSETS {
        let expected_lufs = offset as f64 - 38.0;
        let ended = (offset + 1) as f64;
        let mut checks = Checks::of(format!("case 11, segment {offset}"), TECH_3341);
        for (name, _, windows) in bands(&long.reading_at(frames(RATE_HZ, 6.0 * ended))) {
            let level = windows.bus.short_term_max_lufs;
            checks.level(
                &format!("{name} short_term_max_lufs"),
                level,
                expected_lufs,
                TOLERANCE_LU,
            );
        }
        let mut checks = Checks::of(format!("case 14, segment {offset}"), TECH_3341);
        for (name, _, windows) in bands(&short.reading_at(frames(RATE_HZ, 0.8 * ended))) {
            let level = windows.bus.momentary_max_lufs;
            checks.level(&format!("{name} momentary_max_lufs"), level, expected_lufs, TOLERANCE_LU);
        }
    }
}

#[test]
fn loudness_range_cases_1_to_4_read_the_table() {
    for (case, expected_lu) in [(1, 10.0), (2, 5.0), (3, 20.0), (4, 15.0)] {
        let reading = read(&ebu::play(RATE_HZ, &ebu::range_case(case)));
        let mut checks = Checks::of(format!("case {case}"), TECH_3342);
        for (name, band, _) in bands(&reading) {
            // The document allows ±1 LU; steady tones leave nothing to allow for but the rounding
            // of the levels.
            checks.level(&format!("{name} lra_lu"), band.bus.lra_lu, expected_lu, 0.01);
        }
    }
}

#[test]
fn a_signal_shorter_than_a_window_has_no_such_loudness() {
    let tone = Sine::new(997.0, 0.5).play(RATE_HZ, 0.39);
    let reading = read(&Stereo::both(RATE_HZ, tone));
    let mut checks = Checks::of(
        "997 Hz for 0.39 s",
        "ITU-R BS.1770-5: a block that is not complete is not used",
    );
    for (name, band, windows) in bands(&reading) {
        checks.none(&format!("{name} momentary_lufs"), band.bus.momentary_lufs);
        checks.none(&format!("{name} momentary_max_lufs"), windows.bus.momentary_max_lufs);
        checks.none(&format!("{name} short_term_lufs"), band.bus.short_term_lufs);
        checks.none(&format!("{name} integrated_lufs"), band.bus.integrated_lufs);
        checks.none(&format!("{name} lra_lu"), band.bus.lra_lu);
    }
}
