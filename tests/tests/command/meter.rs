//! A meter named from numbers alone, as typed: one, several, from a file, and what cannot be.

use clap::Parser;
use ledgerline_cli::{Command, Outcome};
use ledgerline_tests::command::ledgerline;
use ledgerline_tests::folder::Folder;
use serde_json::Value;

fn said(words: &[&str]) -> (Outcome, String) {
    let (outcome, text) = ledgerline(&[&["meter"], words].concat());
    // Paragraphs are wrapped.
    (outcome, text.split_whitespace().collect::<Vec<_>>().join(" "))
}

fn record(words: &[&str]) -> (Outcome, Value) {
    let (outcome, json) = ledgerline(&[&["meter", "--json"], words].concat());
    (outcome, serde_json::from_str(&json).expect("JSON"))
}

/// Why the words cannot be taken.
fn refused(words: &[&str]) -> String {
    let words = ["ledgerline", "meter"].iter().chain(words);
    Command::try_parse_from(words).expect_err("refused").to_string()
}

#[test]
fn meters_of_peaks_are_named_from_three_numbers_and_the_sum_cleared() {
    let words = ["--shown", "same=-4", "--shown", "independent=−4", "--shown", "alone=-10"];
    let (outcome, text) = said(&words);
    assert_eq!(outcome, Outcome::Fine);
    for part in [
        "of 14 kinds show them, such as the largest sample, held, whole band, and",
        "it follows peaks more than energy",
        "As far as a meter tells, the sum is right: against alone, same is +6.0 dB and independent \
         is +6.0 dB.",
        "two noises of one's own at 48 kHz",
        "Read to 1 dB.",
        "--played says what else was played",
    ] {
        assert!(text.contains(part), "{part} is missing from: {text}");
    }
    let (_, record) = record(&["--shown", "same=-4,independent=-4,alone=-10"]);
    assert_eq!(record["schema"], "ledgerline.meter/1");
    let possible = record["possible"].as_array().expect("a set");
    assert_eq!(possible[0], "sample_peak/whole");
    // A programme meter of Type I falls by 1.0 dB, which whole numbers do not show.
    assert!(possible.contains(&"programme_1/whole".into()));
    assert!(!possible.contains(&"rms/whole".into()) && !possible.contains(&"needle/whole".into()));
    assert_eq!(record["readings"][0]["name"], "same");
    assert_eq!(record["models"][0]["noise"], "uniform");
    assert_eq!((&record["played"], &record["meter"]), (&"own".into(), &Value::Null));
}

#[test]
fn an_averaging_meter_is_a_set_with_the_step_that_would_part_it() {
    let words = ["--shown", "alone=-24", "same=-18", "independent=-21", "inverted=-inf"];
    let (outcome, text) = said(&words);
    assert_eq!(outcome, Outcome::Fine);
    assert!(text.contains("kinds show them") && text.contains("Play the sum test"), "{text}");
    assert!(text.contains("inverted shows nothing"), "{text}");
    let (_, record) = record(&[&["--played", "loop"], &words[..]].concat());
    let possible = record["possible"].as_array().expect("a set");
    for averaging in ["rms/whole", "needle/audible", "momentary/whole"] {
        assert!(possible.contains(&averaging.into()), "{averaging} is missing");
    }
    assert!(!possible.contains(&"sample_peak/whole".into()));
    // Steps of the sum test part them.
    let (_, record) = self::record(&[
        "--shown",
        "1=-24",
        "3=-18",
        "5=-21",
        "hidden-tone=-20",
        "9=-22",
        "10=-31",
        "bursts-10=-37",
    ]);
    assert_eq!(record["played"], "schedule");
    let possible = record["possible"].as_array().expect("a set");
    assert!(possible.contains(&"rms/whole".into()) && !possible.contains(&"rms/audible".into()));
}

#[test]
fn a_sum_that_does_not_add_at_unity_is_told_with_its_number() {
    let four = ["--shown", "alone=-10", "same=-6", "independent=-7"];
    let (outcome, text) = said(&[&four[..], &["--played", "schedule"]].concat());
    assert_eq!(outcome, Outcome::Faulty);
    let told = "same is 4.0 dB above alone where every meter would show +6.0: the channels do not \
                add at unity, or a reading is wrong.";
    assert!(text.contains(told), "{text}");
    // Peaks of one's own noises may differ by as much.
    let (outcome, text) = said(&four);
    assert_eq!(outcome, Outcome::Fine);
    let told = "same is 4.0 dB above alone where every meter would show +6.0: reading does not \
                explain that";
    assert!(text.contains(told), "{text}");
    let (outcome, text) = said(&["--shown", "alone=-10", "same=-20", "independent=-7"]);
    assert_eq!(outcome, Outcome::Faulty);
    assert!(text.contains("same is 10.0 dB below alone"), "{text}");
    let (outcome, text) =
        said(&["--shown", "alone=-10", "same=-4", "independent=-7", "inverted=-22"]);
    assert_eq!(outcome, Outcome::Faulty);
    // 12 dB under one channel is what a difference of 2.5 dB leaves.
    assert!(text.contains("the channels are 2.5 dB apart in level, or one is late"), "{text}");
}

#[test]
fn several_meters_are_a_table_and_one_that_cannot_be_named_keeps_no_other_from_it() {
    let folder = Folder::new("meters");
    let path = folder.path("meters.txt");
    let lines = "# the desk\nFOH: alone=-10 same=-4 independent=-4\n\nBooth: alone=-24, same=-18 \
                 independent=-21 # by the door\n";
    std::fs::write(&path, lines).expect("a file");
    let (outcome, text) =
        said(&["--from", &path, "--meter", "Truck", "alone=-9", "same=-8", "independent=-6"]);
    assert_eq!(outcome, Outcome::Faulty);
    assert!(text.contains("FOH one of"), "{text}");
    assert!(text.contains("Truck no kind that is known"), "{text}");
    assert!(text.contains("+6.0 +3.0 as it should be"), "{text}");
    let (outcome, records) = record(&["--from", &path, "--meter", "Truck", "alone=-9"]);
    assert_eq!(outcome, Outcome::NotDone);
    let names: Vec<&Value> =
        records.as_array().expect("several").iter().map(|record| &record["meter"]).collect();
    assert_eq!(names, ["FOH", "Booth"]);
}

#[test]
fn what_is_typed_wrong_is_refused_with_what_to_type() {
    for (words, told) in [
        (
            &["--shown", "sames=-4"][..],
            "'sames' is no step: write its number, 1 to 16, or its name: alone",
        ),
        (&["--shown", "same=loud"], "'loud' is not a number of decibels"),
        (&["--shown", "same=-17,5"], "'5' is no reading: write same=-17.5"),
        (&["--shown", "same=-4", "--noise", "brown"], "uniform, gaussian or pink"),
        (&["--shown", "same=-4", "--played", "tape"], "schedule (the sum test), own"),
    ] {
        let error = refused(words);
        assert!(error.contains(told), "{told} is missing from: {error}");
    }
    let good = ["--shown", "alone=-10", "same=-4", "independent=-4"];
    for words in [
        &good[..3],
        &["--shown", "alone=-10", "alone=-4", "independent=-4"],
        &["--shown", "alone=nan", "same=-4", "independent=-4"],
        &[&good[..], &["--resolution", "0"]].concat(),
        &[&good[..], &["--rate", "22050"]].concat(),
        &[&good[..], &["--meter", "FOH", "alone=-10"]].concat(),
        &[&good[..], &["--played", "schedule", "--noise", "pink"]].concat(),
        &[&good[..], &["train=-20", "--played", "own"]].concat(),
        &["--meter", "alone=-10", "same=-4"],
        &["--from", "missing.txt"],
        // Held since the loudest step, and never cleared.
        &["--shown", "same=-4", "alone=-4", "independent=-4"],
        &[],
    ] {
        let (outcome, text) = said(words);
        assert_eq!((outcome, text.as_str()), (Outcome::NotDone, ""), "{words:?}");
    }
}
