//! What happened between two entries, as it is named and told.

use ledgerline_measure::detector::Detector;
use ledgerline_measure::entries::change::{Change, What};
use ledgerline_measure::entries::{Clock, Entry, OpenedBy};
use ledgerline_tests::signals::filter::Chain;
use ledgerline_tests::signals::switching::{Kind, Panning, Sources, Switching};
use ledgerline_tests::signals::{Stereo, noise};

use super::{all, all_beside, change_at, stereo};

/// Length of each state: the least from which changes are named, in seconds.
const EACH_S: f64 = 3.0;

fn switching(kind: Kind, states: &[Sources]) -> Switching<'_> {
    Switching { kind, peak_dbfs: -16.0, rate_hz: 48_000.0, each_s: EACH_S, states }
}

/// In the middle, hard left and right, and from main and side-chain.
fn everywhere(switching: &Switching) -> [(&'static str, Vec<Entry>); 3] {
    let apart = switching.play(Panning::Apart);
    [
        ("in the middle", all(&switching.play(Panning::Middle))),
        ("left and right", all(&apart)),
        ("main and side-chain", all_beside(&apart)),
    ]
}

#[test]
fn what_was_switched_is_named_wherever_the_sources_go() {
    use Sources::{Alone, Copy, Independent, Same};
    let late = Copy(0.05, 0.0);
    let states = [
        Alone(0.0),
        Same,
        late,
        Same,
        Independent,
        Alone(0.0),
        Independent,
        Same,
        Alone(0.0),
        late,
    ];
    // By state from the second on: in the middle, and where the halves tell more.
    let expected = [
        (What::Gain, What::Identical),
        (What::Copy, What::Copy),
        (What::Identical, What::Identical),
        (What::Decorrelated, What::Decorrelated),
        (What::SourceRemoved, What::SourceRemoved),
        (What::SourceAdded, What::SourceAdded),
        (What::Identical, What::Identical),
        (What::Gain, What::SourceRemoved),
        (What::Copy, What::Copy),
    ];
    let switching = switching(Kind::Uniform, &states);
    for (place, entries) in everywhere(&switching) {
        for (index, (middle, apart)) in expected.into_iter().enumerate() {
            let change = change_at(&entries, EACH_S * (index + 1) as f64);
            let expected = if place == "in the middle" { middle } else { apart };
            assert_eq!(change.what, expected, "{place}, {index}: {}", change.sentence);
        }
    }
}

#[test]
fn what_a_gain_looks_like_as_well_is_said_with_it() {
    use Sources::{Alone, Independent, Same};
    let states = [Same, Independent, Alone(0.0), Same, Alone(-5.0)];
    let gaussian = all(&switching(Kind::Gaussian, &states).play(Panning::Middle));
    for (index, also) in
        [What::Decorrelated, What::SourceRemoved, What::Identical].iter().enumerate()
    {
        let change = change_at(&gaussian, EACH_S * (index + 1) as f64);
        assert_eq!(change.what, What::Gain, "{}", change.sentence);
        assert!(change.or.contains(also), "{also:?} is not among {:?}", change.or);
    }
    let pink = all(&switching(Kind::Pink, &[Same, Independent]).play(Panning::Middle));
    let change = change_at(&pink, EACH_S);
    assert!(change.or.contains(&What::Decorrelated), "{}", change.sentence);
    // Twice the amplitude of a bounded noise is one of two things, any other gain one alone.
    let uniform =
        all(&switching(Kind::Uniform, &[Alone(0.0), Same, Alone(1.0)]).play(Panning::Middle));
    let change = change_at(&uniform, EACH_S);
    assert_eq!((change.what, change.or.as_slice()), (What::Gain, [What::Identical].as_slice()));
    let change = change_at(&uniform, 2.0 * EACH_S);
    assert_eq!((change.what, change.or.len()), (What::Gain, 0), "{}", change.sentence);
}

/// 16 s of a noise that falls by 6 dB an octave from 8 Hz on.
fn falling(seed: u64) -> Vec<f32> {
    let mut latest = 0.0;
    let sound = noise::white_gaussian(seed, 1e-3, 16 * 48_000).into_iter().map(|fresh| {
        latest = 0.999 * latest + fresh;
        latest
    });
    sound.collect()
}

/// By 3 dB, from its middle on.
fn turned_down(mut channel: Vec<f32>) -> Vec<f32> {
    channel[8 * 48_000..].iter_mut().for_each(|x| *x *= 0.7079);
    channel
}

/// What is told of halves with a mark in their middle, so that nothing hangs on whether a step is found.
fn across_a_mark(halves: [&[f32]; 2]) -> Change {
    let mut entries = stereo(48_000.0);
    for part in [0..8 * 48_000, 8 * 48_000..16 * 48_000] {
        if part.start > 0 {
            entries.open(OpenedBy::Mark);
        }
        entries.take(&halves.map(|half| &half[part.clone()]), &[], Clock::default());
    }
    entries.finish();
    entries.list().last().and_then(|entry| entry.change.clone()).expect("a change")
}

/// Where nearly all of the level lies in a few narrow bands, chance moves those by a decibel, and what
/// lies far below them tells the gain. Of these noises it moves them furthest of forty.
#[test]
fn a_gain_of_a_noise_that_falls_steeply_is_no_filter() {
    for seed in [13, 22, 38] {
        let channel = turned_down(falling(seed));
        let change = across_a_mark([&channel, &channel]);
        assert_eq!(change.what, What::Gain, "{seed}: {}", change.sentence);
        let (told_db, _) = told_behind("a gain of ", &change.sentence);
        assert!((-3.1..=-2.9).contains(&told_db), "{seed}: {}", change.sentence);
    }
}

/// 16 s of a noise a third of an octave wide, as loudspeakers are set up with.
fn third_octave(seed: u64, centre_hz: f64) -> Vec<f32> {
    let rate_hz = 48_000.0;
    let mut low = Chain::<4>::low_pass(rate_hz, centre_hz * 2f64.powf(1.0 / 6.0));
    let mut high = Chain::<4>::high_pass(rate_hz, centre_hz / 2f64.powf(1.0 / 6.0));
    let noise = noise::white_gaussian(seed, 0.3, 16 * 48_000);
    noise.into_iter().map(|x| high.next(low.next(f64::from(x))) as f32).collect()
}

/// What lies on the skirts of a narrow noise has fewer independent samples than an even noise of their bands;
/// and of two such noises chance moves the sum further than what is told may be off.
#[test]
fn a_gain_of_a_narrow_noise_is_one_and_told_with_its_error_or_not_at_all() {
    for seed in 0..12 {
        let centre_hz = [1000.0, 2000.0, 4000.0][seed as usize % 3];
        let channel = turned_down(third_octave(2 * seed, centre_hz));
        let change = across_a_mark([&channel, &channel]);
        assert_eq!(change.what, What::Gain, "{seed}, {centre_hz} Hz: {}", change.sentence);
        let (told_db, error_db) = told_behind("a gain of ", &change.sentence);
        assert!((told_db + 3.0).abs() <= 1.5 * error_db + 0.05, "{seed}: {}", change.sentence);
        // On one half, so low that half a minute would not be enough.
        let centre_hz = [63.0, 125.0, 250.0][seed as usize % 3];
        let halves = [2 * seed, 2 * seed + 1].map(|seed| third_octave(seed, centre_hz));
        let change = across_a_mark([&halves[0], &turned_down(halves[1].clone())]);
        assert_ne!(change.what, What::Filter, "{seed}, one half: {}", change.sentence);
        assert!(!change.sentence.contains("a gain of"), "{seed}, one half: {}", change.sentence);
    }
}

/// What is strong stays, or moves by what chance makes of it; the level says nothing then, and the frequencies do.
#[test]
fn weak_frequencies_that_move_alone_are_a_filter_and_no_gain() {
    let length = 16 * 48_000;
    for seed in 0..4 {
        let sound = falling(seed);
        // From nothing at 0 Hz to 1.6 dB at half the rate.
        let raised = |n: usize| sound[n] + 0.1 * (sound[n] - sound[n - 1]);
        let filtered = |n: usize| if n < length / 2 { sound[n] } else { raised(n) };
        let channel: Vec<f32> = (0..length).map(filtered).collect();
        let change = across_a_mark([&channel, &channel]);
        assert_eq!(change.what, What::Filter, "{seed}: {}", change.sentence);
    }
    // Two tones of one octave, of which one goes down by 3 dB.
    let tones = |n: usize| {
        let turn = |hz: f64| (hz * n as f64 / 48_000.0 * std::f64::consts::TAU).sin();
        let gain = if n < length / 2 { 1.0 } else { 0.708 };
        (0.1 * turn(1000.0) + 0.1 * gain * turn(1300.0)) as f32
    };
    let channel: Vec<f32> = (0..length).map(tones).collect();
    let change = across_a_mark([&channel, &channel]);
    assert_eq!(change.what, What::Filter, "tones: {}", change.sentence);
}

/// By 1 dB up on the left and down on the right the sum keeps its level, and of a sound that moves by itself
/// no level tells anything; how strong one half is against the other does.
#[test]
fn one_sound_that_is_panned_is_told_by_what_the_halves_are_to_each_other() {
    let steady = noise::white(51, 0.1, 16 * 48_000);
    let swell = |n: usize| 1.0 + 0.9 * (n as f32 / 48_000.0 * 4.0).sin();
    let moving: Vec<f32> = steady.iter().enumerate().map(|(n, x)| x * swell(n)).collect();
    let by = |sound: &[f32], gain: f32| {
        let behind = sound[8 * 48_000..].iter().map(|x| x * gain);
        sound[..8 * 48_000].iter().copied().chain(behind).collect::<Vec<f32>>()
    };
    for (name, sound) in [("steady", &steady), ("moving", &moving)] {
        for (gains, against) in
            [([1.0, 0.794], "−2.0 dB"), ([1.122, 0.891], "−2.0 dB"), ([0.5, 1.0], "+6.0 dB")]
        {
            let change = across_a_mark([&by(sound, gains[0]), &by(sound, gains[1])]);
            assert_eq!(change.what, What::Gain, "{name}, {gains:?}: {}", change.sentence);
            let told = format!("The right half changed by {against} against the left one");
            assert!(change.sentence.starts_with(&told), "{name}, {gains:?}: {}", change.sentence);
        }
        let change = across_a_mark([sound, sound]);
        assert!(!change.sentence.contains("against the left"), "{name}: {}", change.sentence);
    }
}

/// A change of level behind some words, and the error beside it, which is two standard deviations.
fn told_behind(words: &str, sentence: &str) -> (f64, f64) {
    let (_, told) = sentence.split_once(words).expect("the words");
    let (told, _) = told.split_once(" dB").expect("in dB");
    let (level, error) = told.split_once(" ± ").unwrap_or((told, "0.1"));
    let number = |text: &str| text.replace('−', "-").parse().expect("a number");
    (number(level), number(error))
}

/// Of two noises with so few independent samples in 8 s, chance moves levels by half a decibel and
/// correlations by 0.1, also where the other half is one of which it moves neither.
#[test]
fn of_halves_that_are_turned_down_nothing_is_told_that_chance_makes() {
    let white = noise::white(7, 0.05, 16 * 48_000);
    for seed in 0..12 {
        let (one, other) = (falling(2 * seed), falling(2 * seed + 1));
        let beside = [&one, &white][seed as usize % 2];
        let change = across_a_mark([beside, &turned_down(other.clone())]);
        assert_eq!(change.what, What::Gain, "{seed}, one half: {}", change.sentence);
        assert!(!change.sentence.contains("correlation"), "{seed}: {}", change.sentence);
        let (told_db, error_db) = told_behind("half changed by ", &change.sentence);
        // Three standard deviations, and the last digit.
        assert!((told_db + 3.0).abs() <= 1.5 * error_db + 0.05, "{seed}: {}", change.sentence);
        let change = across_a_mark([&turned_down(beside.clone()), &turned_down(other)]);
        assert_eq!(change.what, What::Gain, "{seed}, both: {}", change.sentence);
        for untrue in ["partly alike", "independent now", "half changed"] {
            assert!(!change.sentence.contains(untrue), "{seed}, both: {}", change.sentence);
        }
    }
}

/// What the sum alone would be told as a gain, or as nothing.
#[test]
fn halves_that_change_together_are_told_by_their_levels_and_correlation() {
    let length = 16 * 48_000;
    let [one, other] = [41, 42].map(|seed| noise::white(seed, 0.1, length));
    let mix = |a: f32, b: f32| -> Vec<f32> {
        one.iter().zip(&other).map(|(one, other)| a * one + b * other).collect()
    };
    let later = |before: [&[f32]; 2], after: [&[f32]; 2]| {
        let channel = |i: usize| [&before[i][..length / 2], &after[i][length / 2..]].concat();
        let entries = all(&Stereo::new(48_000.0, channel(0), channel(1)));
        let change = change_at(&entries, 8.0);
        (change.what, change.sentence.clone())
    };
    let (one, other) = (mix(1.0, 0.0), mix(0.0, 1.0));
    let middle = mix(0.5, 0.5);
    let (what, told) = later([&one, &other], [&middle, &middle]);
    assert_eq!(what, What::Identical, "became mono: {told}");
    let (wide, wide_other) = (mix(1.0, 0.3), mix(0.3, 1.0));
    let (what, told) = later([&wide, &wide_other], [&one, &other]);
    assert_eq!(what, What::Decorrelated, "became wider: {told}");
    assert!(told.contains("−0.4 and −0.4 dB"), "1.09 times the power: {told}");
    // Half of what lies below 24 kHz, taken away on one side.
    let smooth: Vec<f32> =
        std::iter::once(0.0).chain(one.windows(2).map(|two| (two[0] + two[1]) / 2.0)).collect();
    let (what, told) = later([&one, &one], [&one, &smooth]);
    assert_eq!(what, What::Other, "filtered on the right: {told}");
    let (what, told) = later([&one, &other], [&one, &mix(0.0, 0.8)]);
    assert_eq!(what, What::Gain, "turned down on the right: {told}");
}

#[test]
fn a_copys_delay_and_level_are_told() {
    for kind in Kind::ALL {
        for (delay_ms, level_db) in [
            (1.0, 0.0),
            (7.0, 0.0),
            (50.0, 0.0),
            (120.0, 0.0),
            (200.0, 0.0),
            (20.0, -6.0),
            (90.0, -3.0),
        ] {
            let states = [Sources::Alone(0.0), Sources::Copy(delay_ms / 1e3, level_db)];
            let entries = all(&switching(kind, &states).play(Panning::Middle));
            let change = change_at(&entries, EACH_S);
            assert_eq!(change.what, What::Copy, "{kind:?} {delay_ms} ms: {}", change.sentence);
            let copy = change.copy.expect("a copy");
            assert!((copy.delay_ms - delay_ms).abs() <= 0.05, "{kind:?} {delay_ms}: {copy:?}");
            assert!((copy.level_db - level_db).abs() <= 0.5, "{kind:?} {level_db}: {copy:?}");
            assert!(!copy.inverted, "{copy:?}");
        }
    }
}

#[test]
fn a_copy_that_takes_the_place_of_another_sound_begins_an_entry_though_the_level_stays() {
    use Sources::{Copy, Independent};
    let states = [Independent, Copy(0.05, 0.0), Independent, Copy(0.007, 0.0), Copy(0.12, 0.0)];
    for (place, entries) in everywhere(&switching(Kind::Uniform, &states)) {
        for (index, delay_ms) in [(1, Some(50.0)), (2, None), (3, Some(7.0)), (4, Some(120.0))] {
            let change = change_at(&entries, EACH_S * f64::from(index));
            let rms = change.whole.sum.of(Detector::Rms).db().expect("a difference");
            assert!(rms.abs() < 0.2, "{place}, {index}: {rms} dB");
            let late = change.copy.map(|copy| copy.delay_ms);
            let fits = match (late, delay_ms) {
                (Some(late), Some(expected)) => (late - expected).abs() <= 0.05,
                (late, expected) => late == expected,
            };
            assert!(fits, "{place}, {index}: {late:?}, {}", change.sentence);
        }
    }
}

#[test]
fn a_copy_too_near_to_be_told_makes_one_step() {
    let states = [Sources::Same, Sources::Copy(0.000_3, 0.0)];
    let entries = all(&switching(Kind::Uniform, &states).play(Panning::Middle));
    assert_eq!(entries.len(), 2);
    let change = change_at(&entries, EACH_S);
    assert!(matches!(change.what, What::Filter | What::Other), "{}", change.sentence);
}

#[test]
fn halves_that_cancel_are_inverted_and_a_bus_that_does_may_have_been_switched_off() {
    let states = [Sources::Same, Sources::Inverted];
    let [(_, middle), (_, apart), (_, beside)] = everywhere(&switching(Kind::Pink, &states));
    let change = change_at(&middle, EACH_S);
    assert_eq!((change.what, change.or.as_slice()), (What::Silence, [What::Null].as_slice()));
    for entries in [apart, beside] {
        assert_eq!(change_at(&entries, EACH_S).what, What::Inverted);
    }
}

#[test]
fn the_sentence_says_what_happened_which_meter_shows_it_and_whether_the_summing_is_right() {
    let states = [Sources::Same, Sources::Copy(0.05, 0.0)];
    let entries = all(&switching(Kind::Uniform, &states).play(Panning::Middle));
    let change = change_at(&entries, EACH_S);
    assert!(change.copy.expect("a copy").level_db.abs() <= 0.5, "{:?}", change.copy);
    let sentence = &change.sentence;
    for part in [
        "The sum fell by 3.0 dB",
        "one now comes 50.00 ms late",
        "add like independent ones",
        "RMS, needle and momentary loudness show it",
        "sample peak 0.0 dB",
        "Hidden content has no part in it",
        "Out through a converter and in again, a sample-peak meter would show about −1.",
        "the summing is right",
    ] {
        assert!(sentence.contains(part), "“{part}” is not in: {sentence}");
    }
}

#[test]
fn programme_with_marks_is_never_told_more_than_can_be_known() {
    let mix = ledgerline_tests::signals::bench_mix::play();
    let third = mix.frames() / 3;
    for gain in [1.0, 0.5, 2.0] {
        let mut entries = super::stereo(mix.rate_hz);
        for part in 0..3 {
            if part > 0 {
                entries.open(ledgerline_measure::entries::OpenedBy::Mark);
            }
            let mut piece = mix.cut(part * third..(part + 1) * third);
            let by = if part == 1 { gain } else { 1.0 };
            piece.left.iter_mut().chain(&mut piece.right).for_each(|x| *x *= by);
            super::feed(&mut entries, &piece);
        }
        entries.finish();
        for entry in entries.list().iter().skip(1) {
            let change = entry.change.as_ref().expect("a change");
            let modest = [What::CannotTell, What::Hidden, What::Other, What::None];
            assert!(modest.contains(&change.what), "{:?}: {}", change.what, change.sentence);
        }
    }
}
