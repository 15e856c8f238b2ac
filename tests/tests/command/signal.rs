//! What `signal` writes: files that are what they say, and a card that is about them.

use clap::Parser;
use ledgerline_cli::{Command, Outcome};
use ledgerline_measure::sum_test::schedule::{Form, Schedule};
use ledgerline_measure::words;
use ledgerline_tests::command::ledgerline;
use ledgerline_tests::folder::Folder;
use ledgerline_tests::vocabulary::wrong_words;
use ledgerline_tests::wav;

#[test]
fn the_feeds_of_the_test_agree_and_their_null_is_exact() {
    let folder = Folder::new("signal");
    for (bits, rate) in [("16", "44100"), ("24", "96000")] {
        let (outcome, said) =
            ledgerline(&["signal", &folder.path(rate), "--bits", bits, "--rate", rate]);
        assert_eq!(outcome, Outcome::Fine);
        assert_eq!(said.lines().count(), 4);
        let [one, two, both] = ["feed-1.wav", "feed-2.wav", "feeds-stereo.wav"]
            .map(|name| wav::read(&folder.path(&format!("{rate}/{name}"))));
        assert!(both.iter().step_by(2).eq(&one) && both.iter().skip(1).step_by(2).eq(&two));
        let largest = one.iter().chain(&two).fold(0f32, |held, x| held.max(x.abs()));
        assert!((20.0 * largest.log10() + 20.0).abs() < 0.01);
        // The null is exact in the files too.
        let rate: usize = rate.parse().expect("a number");
        let start = (4.25 + 3.0 * 4.75) as usize * rate;
        assert!((start..start + 3 * rate).all(|n| one[n] + two[n] == 0.0));
    }
}

#[test]
fn what_would_harm_or_cannot_be_is_refused() {
    for words in [
        ["signal", "x", "--level", "-3"],
        ["signal", "x", "--level", "nan"],
        ["signal", "x", "--bits", "12"],
        ["signal", "x", "--rate", "fast"],
    ] {
        let words = std::iter::once("ledgerline").chain(words);
        assert!(Command::try_parse_from(words).is_err());
    }
    let folder = Folder::new("refused");
    assert_eq!(ledgerline(&["signal", &folder.path(""), "--rate", "22050"]).0, Outcome::NotDone);
    std::fs::write(folder.path("file"), "in the way").expect("a file");
    assert_eq!(ledgerline(&["signal", &folder.path("file/below")]).0, Outcome::NotDone);
}

/// The files that `signal` wrote into a folder, and the card.
fn written(folder: &Folder, names: [&str; 3], options: &[&str]) -> ([Vec<f32>; 2], String) {
    let (outcome, said) = ledgerline(&[&["signal", &folder.path("")], options].concat());
    assert_eq!(outcome, Outcome::Fine, "{said}");
    assert_eq!(said.lines().count(), 4, "{said}");
    let [one, two, both] = names.map(|name| wav::read(&folder.path(name)));
    assert!(both.iter().step_by(2).eq(&one) && both.iter().skip(1).step_by(2).eq(&two));
    ([one, two], std::fs::read_to_string(folder.path("card.txt")).expect("a card"))
}

const LOOP: [&str; 3] = ["loop-1.wav", "loop-2.wav", "loop-stereo.wav"];
const NOISES: [&str; 3] = ["noise-1.wav", "noise-2.wav", "noises-stereo.wav"];
const FEEDS: [&str; 3] = ["feed-1.wav", "feed-2.wav", "feeds-stereo.wav"];

fn peak_dbfs(samples: &[f32]) -> f64 {
    20.0 * f64::from(samples.iter().fold(0f32, |held, x| held.max(x.abs()))).log10()
}

/// Normalised correlation of two stretches.
fn correlation(one: &[f32], two: &[f32]) -> f64 {
    let product = |x: &[f32], y: &[f32]| -> f64 {
        x.iter().zip(y).map(|(x, y)| f64::from(*x) * f64::from(*y)).sum()
    };
    product(one, two) / (product(one, one) * product(two, two)).sqrt()
}

#[test]
fn the_loop_is_its_four_pairs_at_its_level_and_goes_on_where_it_is_repeated() {
    for (noise, most_db, likeness) in
        [("uniform", 0.01, 0.02), ("gaussian", 2.0, 0.02), ("pink", 6.0, 0.2)]
    {
        let folder = Folder::new("loop");
        let options = ["--loop", "--each", "2", "--noise", noise, "--level", "-12"];
        let ([one, two], _) = written(&folder, LOOP, &options);
        let each = 96_000;
        assert_eq!((one.len(), two.len()), (4 * each, 4 * each), "{noise}");
        for feed in [&one, &two] {
            let peak = peak_dbfs(feed);
            assert!(peak <= -11.999 && peak > -12.0 - most_db, "{noise}: {peak}");
        }
        // Behind the fade, and at the end before what leads back into the beginning.
        let inside = |pair: usize| pair * each + 960..(pair + 1) * each - 960;
        assert_eq!(one[inside(0)], two[inside(0)], "{noise}: same");
        let [x, y] = [&one[inside(1)], &two[inside(1)]];
        assert!(correlation(x, y).abs() < likeness, "{noise}: {}", correlation(x, y));
        assert!(inside(2).all(|n| two[n] == one[n - 4_800]), "{noise}: delayed");
        assert!(inside(3).all(|n| one[n] + two[n] == 0.0), "{noise}: inverted");
        // Within the noise's own steps where it returns.
        for feed in [&one, &two] {
            let step = |pair: &[f32]| (pair[1] - pair[0]).abs();
            let largest = feed.windows(2).map(step).fold(0f32, f32::max);
            assert!((feed[0] - feed[feed.len() - 1]).abs() <= largest, "{noise}: a seam");
        }
    }
}

#[test]
fn the_noises_have_nothing_in_common_and_last_as_long_as_asked() {
    let folder = Folder::new("noises");
    let options = ["--pairs", "--noise", "gaussian", "--minutes", "0.25", "--rate", "44100"];
    let ([one, two], card) = written(&folder, NOISES, &options);
    assert_eq!(one.len(), 15 * 44_100);
    assert!(correlation(&one, &two).abs() < 0.01);
    assert!(card.contains("--played own --noise gaussian"), "{card}");
}

#[test]
fn the_card_begins_with_the_cautions_and_has_the_times_of_what_plays() {
    let forms: [(&[&str], Form, f64); 3] = [
        (&[], Form::Full, 4.75),
        (&["--short"], Form::Short, 6.25),
        (&["--pace", "15", "--level", "-30"], Form::Full, 15.0),
    ];
    for (options, form, slot_s) in forms {
        let folder = Folder::new("card");
        let ([one, _], card) = written(&folder, FEEDS, options);
        let schedule = Schedule::with(48_000, form, slot_s).expect("a schedule");
        assert_eq!(one.len() as u64, schedule.length_frames());
        let time = |frames: u64| words::moment(frames as f64 / 48_000.0, 2);
        for (index, from) in schedule.step_starts() {
            let row = format!(
                "{:<4} {:<8} {}",
                index + 1,
                time(from),
                time(from + schedule.step_frames())
            );
            let is_there = card.lines().any(|line| line.trim_start().starts_with(&row));
            assert!(is_there, "{row} is missing:\n{card}");
        }
        assert!(card.contains("ledgerline audit RECORDING.wav"), "{card}");
        assert_eq!(card.contains("--level -30"), options.len() > 2, "{card}");
        assert_card_is_sound(&card);
    }
    let folder = Folder::new("loop card");
    let (_, card) = written(&folder, LOOP, &["--loop", "--each", "10", "--noise", "pink"]);
    for row in ["same          0:00.0    0:10.0", "delayed       0:20.0    0:30.0"] {
        assert!(card.contains(row), "{row} is missing:\n{card}");
    }
    assert_card_is_sound(&card);
}

/// A uniform noise's card says of the sample peak what the loop is there to show, as measured.
#[test]
fn the_loops_card_says_which_meters_move() {
    let folder = Folder::new("moves");
    let (_, card) = written(&folder, LOOP, &["--loop", "--level", "-10"]);
    let row = |kind: &str| {
        let line = card.lines().find(|line| line.trim_start().starts_with(kind)).expect("a row");
        line.split_whitespace().rev().take(3).map(str::to_owned).collect::<Vec<_>>()
    };
    assert_eq!(row("sample peak, whole band"), ["0.0", "0.0", "−4.0"]);
    assert_eq!(row("RMS, whole band"), ["−3.0", "−3.0", "−8.7"]);
    assert_card_is_sound(&card);
}

fn assert_card_is_sound(card: &str) {
    let caution = card.find("CAUTION").expect("cautions");
    let play = card.find("SET UP").expect("what to do");
    assert!(caution < play && card[play..].contains("switch loudspeakers"), "{card}");
    for line in card.lines() {
        assert!(line.chars().count() <= 100, "too wide: {line}");
        assert_eq!(wrong_words(line), Vec::<String>::new());
    }
}

#[test]
fn options_that_contradict_each_other_write_nothing() {
    let folder = Folder::new("contradictions");
    let x = folder.path("x");
    for options in [&["--loop", "--pairs"][..], &["--short", "--pace", "5"], &["--minutes", "2"]] {
        assert_eq!(ledgerline(&[&["signal", &x], options].concat()).0, Outcome::NotDone);
    }
    assert!(!std::path::Path::new(&x).exists(), "something was written");
}

#[test]
fn a_folder_holds_what_one_card_is_about() {
    let folder = Folder::new("mixed");
    written(&folder, LOOP, &["--loop", "--each", "2"]);
    let (again, _) = written(&folder, LOOP, &["--loop", "--each", "2"]);
    let path = folder.path("");
    for options in [&["--loop", "--each", "3"][..], &[], &["--pairs"]] {
        let words = [&["signal", path.as_str()], options].concat();
        assert_eq!(ledgerline(&words).0, Outcome::NotDone, "{options:?}");
    }
    assert!(!std::path::Path::new(&folder.path("feed-1.wav")).exists());
    assert_eq!(wav::read(&folder.path(LOOP[0])), again[0]);
}

/// What a desk makes of the files without doing anything but adding them, judged as its card says.
#[test]
fn files_at_any_pace_are_judged_as_the_card_says() {
    for options in [&["--short"][..], &["--short", "--pace", "8"], &["--pace", "6"]] {
        let folder = Folder::new("judged");
        let ([one, two], _) = written(&folder, FEEDS, options);
        let sum: Vec<f32> = one.iter().zip(&two).map(|(one, two)| one + two).collect();
        let recording = folder.path("recording.wav");
        wav::write(&recording, 48_000, &[&sum]);
        let (outcome, said) = ledgerline(&["audit", &recording]);
        assert_eq!(outcome, Outcome::Fine, "{options:?}: {said}");
    }
}
