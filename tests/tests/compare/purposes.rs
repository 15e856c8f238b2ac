//! What an export is for decides what fails, and each finding says what to do.

use ledgerline_measure::compare::finding::{Code, Concern};
use ledgerline_measure::compare::{CompareSettings, Comparison, Purpose, PurposeBy, compare};
use ledgerline_tests::chains;
use ledgerline_tests::memory::Memory;
use ledgerline_tests::signals::session;

use super::{Found, LONG, MIX, compared, gain};

const SPOT: usize = 300_000;

fn judged(purpose: Purpose, mix: &Memory, export: &Memory) -> Comparison {
    let settings = CompareSettings {
        purpose,
        purpose_by: PurposeBy::Choice,
        tolerances: purpose.tolerances(),
        ..CompareSettings::default()
    };
    compare(&mut mix.clone(), &mut export.clone(), &settings, &mut |_| ())
        .unwrap_or_else(|error| panic!("{error}"))
}

/// The export with so many frames of both channels zeroed.
fn silenced(export: &Memory, frames: usize) -> Memory {
    export.each(|channel| {
        let mut channel = channel.to_vec();
        channel[SPOT..SPOT + frames].fill(0.0);
        channel
    })
}

#[test]
fn a_master_may_be_limited_and_lifted_but_neither_broken_nor_turned_over() {
    let master = chains::limited(&LONG.map(|x| x * gain(6.0)), 0.4, 0.05);
    let found = judged(Purpose::Master, &LONG, &master);
    assert!(found.within, "{:?}", found.outside);
    assert!(found.codes().contains(&Code::Limiting), "{:?}", found.codes());
    // What was done on purpose is not to be undone.
    assert_eq!(found.steps(), Vec::<&str>::new());
    assert!(!judged(Purpose::Same, &LONG, &master).within);

    let swapped = master.with(vec![master.channels[1].clone(), master.channels[0].clone()]);
    for (broken, why) in [
        (silenced(&master, 4_800), "0.100 s silenced"),
        (master.map(|x| -x), "Polarity is not the mix's"),
        (swapped, "Channels are not the mix's"),
        (master.map(|x| x + 0.01), "DC −39"),
        (chains::without(&master, 480_000..528_000), "1.000 s removed"),
    ] {
        let found = judged(Purpose::Master, &LONG, &broken);
        let [outside] = &found.outside[..] else { panic!("{why}: {:?}", found.outside) };
        assert!(outside.starts_with(why), "{outside}, not {why}");
    }
}

#[test]
fn another_level_is_all_that_a_normalised_copy_may_have() {
    let lower = chains::quantised(&MIX.map(|x| x * gain(-7.3)), 24, 0);
    let found = judged(Purpose::Normalised, &MIX, &lower);
    assert!(found.within && found.steps().is_empty(), "{:?}", found.outside);
    let limited = judged(Purpose::Normalised, &LONG, &chains::limited(&LONG, 0.3, 0.05));
    assert!(!limited.within, "{}", limited.sentence);
}

#[test]
fn advice_says_by_how_much_and_where() {
    let swapped = MIX.with(vec![MIX.channels[1].clone(), MIX.channels[0].clone()]);
    let one_lower = MIX.with(vec![
        MIX.channels[0].clone(),
        MIX.channels[1].iter().map(|x| x * gain(-1.5)).collect(),
    ]);
    let piece = session::play(9, 48_000, 1.0);
    for (export, advice) in [
        (MIX.map(|x| x * gain(-0.5)), "Raise the export by 0.50 dB."),
        (MIX.map(|x| -x), "Invert the export."),
        (swapped, "Swap left and right."),
        (one_lower, "Raise the right channel by 1.50 dB."),
        (chains::with_piece(&MIX, 576_000, &piece), "Cut 1.000 s at 0:12.000 of the export."),
        (silenced(&MIX, 5), "Export again, with a larger buffer if it was recorded in real time."),
        (
            chains::quantised(&MIX, 16, 0),
            "Add dither where the word becomes 16 bits, or export in 24 bits.",
        ),
    ] {
        let found = compared(&MIX, &export);
        assert!(found.steps().contains(&advice), "{:?}\n{}", found.steps(), found.sentence);
    }
    assert_eq!(compared(&MIX, &MIX).steps(), Vec::<&str>::new());
}

#[test]
fn what_is_audible_comes_before_the_books_and_hidden_content_last() {
    let swapped = MIX.with(vec![MIX.channels[1].clone(), MIX.channels[0].clone()]);
    let export = chains::quantised(&swapped.map(|x| x + 0.002), 16, 2);
    let found = compared(&MIX, &export);
    let concerns: Vec<Concern> = found.findings.iter().map(|finding| finding.concerns).collect();
    assert_eq!(found.findings[0].code, Code::ChannelsChanged, "{:?}", found.codes());
    assert_eq!(concerns.last(), Some(&Concern::Hidden), "{:?}", found.codes());
    let books = found.findings.iter().find(|finding| finding.code == Code::WordLength);
    assert_eq!(books.map(|finding| finding.concerns), Some(Concern::File));
}

#[test]
fn spots_are_counted_beyond_those_that_are_listed() {
    let mut export = MIX.clone();
    for spot in 0..150 {
        export.channels[0][100_000 + 2_000 * spot..][..4].fill(0.0);
    }
    let found = compared(&MIX, &export);
    let counts = found.spot_counts;
    assert_eq!((found.spots.len(), found.spots_found), (100, 150));
    assert_eq!((counts.zeroed, counts.held, counts.clipped, counts.wrong), (150, 0, 0, 0));
    assert!(found.outside.contains(&"150 dropouts, 0 allowed".to_owned()), "{:?}", found.outside);
}

#[test]
fn flat_tops_are_clipping_where_something_was_cut_off() {
    for quiet_db in [-64.0, -40.0, -20.0] {
        let quiet = LONG.map(|x| x * gain(quiet_db));
        for times in [0, 2] {
            let found = compared(&quiet, &chains::quantised(&quiet, 16, times));
            assert!(!found.codes().contains(&Code::Clipping), "{quiet_db}: {}", found.sentence);
        }
    }
    // Clipped, then turned down: flat far below full scale.
    let cut = LONG.map(|x| gain(-12.0) * (x * gain(12.0)).clamp(-1.0, 1.0));
    let found = compared(&LONG, &cut);
    assert!(found.codes().contains(&Code::Clipping), "{}", found.sentence);
}
