//! Every sentence over a grid of readings: no number may contradict its words, and every number is
//! written by one rule.

use ledgerline_measure::causes::CauseCode;
use ledgerline_measure::verdict::{
    Clipped, Code, Fact, Finding, Misleading, Severity, Taker, Withheld,
};
use ledgerline_measure::{Edges, Halves, Level, Reading, Settings, Target, TargetKind, View};
use ledgerline_tests::readings::{Checks, Live, read};
use ledgerline_tests::signals::tone::{Sine, added, delayed};
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
        || (sentence.contains("heard") && !sentence.contains("clipping adds damage"))
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
                    let target = Some(Target { kind: TargetKind::Loudness, value: -23.0 });
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
    let said = |sample_db: f64, true_db: f64| -> Vec<(Code, String, Option<String>)> {
        let aimed = moved(&reading, sample_db, true_db, -23.0)
            .aimed_at(&View::default(), Settings::default().edges);
        let about_peaks = aimed.findings.as_slice().iter().filter(|finding| {
            [Code::RoomOverstated, Code::OverCeiling, Code::Clean].contains(&finding.code)
        });
        about_peaks.map(|finding| (finding.code, finding.sentence(), finding.action())).collect()
    };
    let [(code, sentence, action)] = &said(3.3, 6.0)[..] else { panic!("one finding") };
    assert_eq!(*code, Code::RoomOverstated);
    assert_eq!(
        sentence,
        "The audible true peak is 7.0 dB above the ceiling, not 4.3 dB, as a sample-peak meter shows."
    );
    assert_eq!(action.as_deref(), Some("Turn down by 7.0 dB."));
    // A meter that is off by less than it takes to mislead is not blamed.
    let [(code, sentence, _)] = &said(-1.1, -0.5)[..] else { panic!("one finding") };
    assert_eq!(*code, Code::OverCeiling);
    assert_eq!(sentence, "The audible true peak is 0.5 dB above the ceiling of −1.0 dBTP.");
    let codes = |said: Vec<(Code, String, Option<String>)>| -> Vec<Code> {
        said.into_iter().map(|(code, ..)| code).collect()
    };
    assert_eq!(codes(said(-1.0, -0.97)), [], "what one decimal shows as nothing");
}

/// Words as they are read out: a number and its unit are one.
fn words(text: &str) -> usize {
    const UNITS: [&str; 10] = ["dB", "dBFS", "dBTP", "LUFS", "LU", "Hz", "kHz", "ms", "s", "%"];
    let words = text.split([' ', '\u{a0}']).filter(|word| {
        let bare = word.trim_matches(|c: char| !c.is_alphanumeric() && c != '%');
        !UNITS.contains(&bare)
    });
    words.count()
}

/// A finding of every kind, made from `numbers`, of which each takes the next.
fn every_fact(mut number: impl FnMut() -> f64) -> Vec<Fact> {
    let mut n = || number();
    let mut taker = || Taker { price_db: n(), since_s: n().abs(), tone_share: n().abs() };
    let (above, below) = (taker(), taker());
    let mut n = || number();
    let share = |number: f64| number.abs() % 1.0;
    let damage = Clipped {
        limit_dbfs: n().min(0.0),
        clipped_runs: n().abs() * 1e9,
        first_clipped_s: n().abs() * 1e3,
        last_clipped_s: n().abs() * 1e3,
        worst_re_programme_db: n(),
        over_db: n(),
    };
    vec![
        Fact::InvalidInput { frames: n().abs() * 1e9 },
        Fact::Overs {
            overs: n().abs() * 1e9,
            sample_peak_dbfs: n(),
            audible_true_peak_dbtp: n(),
            true_room_db: n(),
            room_now_db: n(),
            damage,
        },
        Fact::Damage(damage),
        Fact::HalvesCancel { correlation: n(), sum_gain_energy_db: n() },
        Fact::RoomWithheld(Withheld {
            withheld_db: n().abs(),
            room_db: n(),
            true_room_db: n(),
            above_share: share(n()),
            below_share: share(n()),
            dc_share: share(n()),
            low_edge_hz: n().abs(),
            high_edge_hz: n().abs() * 1e3,
            tone_above_hz: n().abs() * 1e3,
            tone_below_hz: n().abs(),
            lift_allowed_db: n(),
            above,
            below,
        }),
        Fact::OverCeiling { true_room_db: n(), room_now_db: n(), ceiling_db: n() },
        Fact::PeaksMislead(Misleading {
            correlation: n(),
            sum_gain_energy_db: n(),
            sum_gain_peak_db: n(),
            level_difference_db: n(),
            audible_gain_energy_db: n(),
            audible_gain_peak_db: n(),
            copy_delay_ms: n(),
            copy_inverted: n(),
            copy_correlation: n(),
        }),
        Fact::RoomOverstated {
            withheld_db: n(),
            room_db: n(),
            true_room_db: n(),
            room_now_db: n(),
        },
        Fact::LimiterOnHidden { hidden_db: n(), whole_db: n() },
        Fact::LoudnessReadsHidden {
            over_lu: n(),
            whole_lufs: n(),
            audible_lufs: n(),
            above_share: share(n()),
            below_share: share(n()),
            low_edge_hz: n().abs(),
            high_edge_hz: n().abs() * 1e3,
        },
        Fact::LiftLimited { lift_db: n().abs(), lift_allowed_db: n(), lift_now_db: n() },
        Fact::LiftFree { lift_db: n().abs(), true_room_db: n().abs(), lift_now_db: n() },
        Fact::AboveTarget { lift_db: -n().abs() },
        Fact::HalvesIdentical {
            correlation: n(),
            level_difference_db: n(),
            sum_gain_energy_db: n(),
            sides_db: n(),
        },
        Fact::HiddenTone { tone_hz: n().abs() * 1e3, tone_dbfs: n(), re_audible_db: n() },
        Fact::FlatTops { flat_tops: n().abs() * 1e9 },
        Fact::Rumble { below_dbfs: n(), below_share: share(n()), low_edge_hz: n().abs() },
        Fact::Dc { dc_dbfs: n() },
        Fact::Silence { silent_s: n().abs() * 1e3 },
        Fact::Clean { true_room_db: n(), ceiling_db: n() },
    ]
}

#[test]
fn every_finding_is_told_in_twenty_words_and_what_to_do_in_twelve() {
    const NUMBERS: [f64; 12] =
        [0.0, -0.03, 0.4, -0.96, 1.0, 3.1, -8.5, 18.0, -110.4, 600.0, f64::NAN, f64::NEG_INFINITY];
    let mut checks = Checks::of("every finding", "what fits a screen");
    let mut longest = [0, 0];
    for round in 0..4_000 {
        let mut index = 0;
        let number = || {
            index += 1;
            NUMBERS[(noise::hash(round, index) % NUMBERS.len() as u64) as usize]
        };
        for fact in every_fact(number) {
            for halves in [Halves::LeftRight, Halves::MainSidechain] {
                let finding = Finding::new(Severity::Note, fact).between(halves);
                let (sentence, action) = (finding.sentence(), finding.action());
                let counts = [words(&sentence), action.as_deref().map_or(1, words)];
                let is_short = (1..=20).contains(&counts[0]) && (1..=12).contains(&counts[1]);
                checks.that(is_short, "20 and 12 words", (counts, &sentence, &action));
                longest = [0, 1].map(|i: usize| longest[i].max(counts[i]));
            }
        }
    }
    assert_eq!(words("Lift by 0.1 dB now, by 3.1 dB after filters."), 8);
    checks.that(longest[0] >= 18 && longest[1] >= 8, "long ones among them", longest);
}

#[test]
fn room_that_hidden_content_takes_is_told_with_its_tone_and_since_when() {
    let rate_hz = 96_000.0;
    let heard = Sine::new(440.0, amplitude(-12.0)).faded(rate_hz, 12.0, 0.5);
    let tone = Sine::new(31_000.0, amplitude(-14.0)).faded(rate_hz, 7.0, 0.5);
    let late = added(&heard, &delayed(&[tone, vec![0.0; 480_000]].concat(), 480_000));
    let reading = read(&Stereo::both(rate_hz, late));
    let first = &reading.findings.as_slice()[0];
    let cause = reading.causes.iter().find(|cause| cause.code == CauseCode::Above);
    let price_db = cause.expect("the tone's price").price_db;
    let expected = format!("A 31 kHz tone takes {price_db:.1} dB of room since 0:05.");
    assert_eq!(first.sentence(), expected);
    assert_eq!(first.action().as_deref(), Some("Low-pass at 20 kHz, measure again."));
    let codes: Vec<Code> = reading.findings.as_slice().iter().map(|found| found.code).collect();
    assert!(!codes.contains(&Code::HiddenTone), "one fact told twice: {codes:?}");
    assert!((price_db - 5.1).abs() < 0.2, "two amplitudes meet: {price_db}");
}

#[test]
fn silence_is_told_with_its_length_once_there_was_a_signal() {
    let rate_hz = 48_000.0;
    let second = 48_000;
    let sine = Sine::new(440.0, amplitude(-30.0)).play(rate_hz, 2.0);
    let dither = noise::white(2, amplitude(-90.3), 200 * second);
    let sound = Stereo::both(rate_hz, [vec![0.0; second], sine, dither].concat());
    let mut live = Live::new(&sound);
    let mut said = |time_s: f64| {
        let reading = live.reading_at((time_s * rate_hz) as usize);
        (reading.windows.silent_s, reading.findings.as_slice()[0].sentence())
    };
    let (silent_s, sentence) = said(0.9);
    assert!(silent_s.is_some_and(|s| (s - 0.9).abs() < 0.02), "{silent_s:?}");
    assert_eq!(sentence, "No signal yet.");
    let (silent_s, sentence) = said(2.0);
    assert_eq!(silent_s, None);
    assert!(sentence.starts_with("L and R are one signal"), "{sentence}");
    let (silent_s, sentence) = said(5.0);
    assert!(silent_s.is_some_and(|s| (s - 2.0).abs() < 0.02), "{silent_s:?}");
    assert!(sentence.starts_with("L and R are one signal"), "a pause: {sentence}");
    assert_eq!(said(195.0).1, "Silent for 3:12.");
    // A file is told of as a whole, also where it ends in silence.
    let whole = live.reading_at(195 * second).over_the_whole();
    assert!(whole.findings.as_slice().iter().all(|finding| finding.code != Code::Silence));
    assert!(whole.windows.silent_s.is_some_and(|s| s > 190.0));
}
