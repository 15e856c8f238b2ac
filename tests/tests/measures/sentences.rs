//! Every sentence over a grid of readings: no number may contradict its words, and every number is
//! written by one rule.

use ledgerline_measure::verdict::{Code, Finding};
use ledgerline_measure::{Edges, Halves, Level, Reading, Settings, Target, TargetKind, View};
use ledgerline_tests::readings::{Checks, read};
use ledgerline_tests::signals::{Stereo, amplitude, noise};

/// What a sentence says wrongly, if anything.
fn wrong(sentence: &str) -> Option<&'static str> {
    let characters: Vec<char> = sentence.chars().collect();
    let pairs = || characters.windows(2);
    let negative_claims =
        ["room is −", "left −", "are −", "by −", "up to −", "rises −", "lies −", "stands −"];
    if pairs().any(|pair| pair[0] == '-' && pair[1].is_ascii_digit()) {
        Some("a hyphen for a minus")
    } else if pairs().any(|pair| pair[0] == '−' && pair[1] == '0') && sentence.contains("−0.0")
    {
        Some("minus nothing")
    } else if sentence.contains("NaN ") || sentence.contains("inf ") {
        Some("no number")
    } else if sentence.contains("shows −") && sentence.contains("dB of room") {
        Some("negative room")
    } else if sentence.contains(" 0.0 dB above") || sentence.contains("by 0.0 dB") {
        Some("nothing as a distance")
    } else if negative_claims.iter().any(|claim| sentence.contains(claim)) {
        Some("a negative distance")
    } else if sentence.contains("A and B")
        || sentence.contains("the box")
        || sentence.contains("heard")
    {
        Some("a word that is not the desk's")
    } else {
        None
    }
}

/// A reading whose levels are moved to where they are asked.
fn moved(reading: &Reading, sample_db: f64, true_db: f64, lufs: f64) -> Reading {
    let mut moved = *reading;
    moved.whole.bus.sample_peak_dbfs = Level::from_db(sample_db);
    moved.audible.bus.true_peak_dbtp = Level::from_db(true_db);
    moved.audible.bus.integrated_lufs = Level::from_db(lufs);
    moved
}

#[test]
fn every_sentence_over_a_grid_of_readings_writes_its_numbers_by_one_rule() {
    let a = noise::white(1, amplitude(-10.0), 48_000);
    let b = noise::white(2, amplitude(-10.0), 48_000);
    let reading = read(&Stereo::new(48_000.0, a, b));
    let mut seen = std::collections::BTreeSet::new();
    let mut checks = Checks::of("a grid of readings", "the rule for numbers in sentences");
    let peaks = [-20.0, -7.0, -1.04, -1.0, -0.96, -0.5, 0.0, 4.3, 6.0];
    for sample_db in peaks {
        for true_db in peaks {
            for lufs in [-40.0, -23.2, -9.0] {
                for ceiling_db in [-1.0, 0.0, 1.0] {
                    let mut reading = moved(&reading, sample_db, true_db, lufs);
                    reading.hidden.above_share = Some(0.4);
                    reading.hidden.below_share = Some(0.08);
                    reading.damage.flat_tops = 12;
                    reading.windows.invalid_frames = 1;
                    let target = Target { kind: TargetKind::Loudness, value: -23.0 };
                    let view = View { target, ceiling_db, ..View::default() };
                    let aimed = reading.aimed_at(&view, Edges::default());
                    for finding in aimed.findings.as_slice() {
                        seen.insert(format!("{:?}", finding.code));
                        let sentence = finding.sentence();
                        let fault = wrong(&sentence);
                        checks.that(fault.is_none(), &format!("{fault:?}"), sentence);
                    }
                }
            }
        }
    }
    for code in ["RoomWithheld", "RoomOverstated", "OverCeiling", "LiftLimited", "PeaksMislead"] {
        checks.that(seen.contains(code), &format!("the grid reaches {code}"), &seen);
    }
}

#[test]
fn a_mixed_case_says_what_stands_above_the_ceiling() {
    let noise = noise::white(1, amplitude(-10.0), 48_000);
    let reading = read(&Stereo::new(48_000.0, noise.clone(), noise));
    let said = |sample_db: f64, true_db: f64, code: Code| {
        let aimed = moved(&reading, sample_db, true_db, -23.0)
            .aimed_at(&View::default(), Settings::default().edges);
        let found = aimed.findings.as_slice().iter().find(|finding| finding.code == code).copied();
        found.map(|finding: Finding| finding.between(Halves::LeftRight).sentence())
    };
    let overstated = said(3.3, 6.0, Code::RoomOverstated).unwrap_or_default();
    assert_eq!(
        overstated,
        "There is 2.7 dB less room than your meter shows: the audible waveform rises above the \
         largest sample. Your meter shows peaks 4.3 dB above the ceiling; the audible true peak lies \
         7.0 dB above the ceiling."
    );
    let over = said(3.3, 6.0, Code::OverCeiling).unwrap_or_default();
    assert!(over.starts_with("The audible true peak lies 7.0 dB above the ceiling of −1.0 dBTP"));
    assert_eq!(said(-1.0, -0.97, Code::OverCeiling), None, "what one decimal shows as nothing");
}
