//! Damage: wrong words, dropouts, clipping, limiting, noise.

use ledgerline_measure::compare::finding::Code;
use ledgerline_measure::compare::record::{EditKind, SpotKind, Verdict};
use ledgerline_tests::chains;
use ledgerline_tests::memory::Memory;
use ledgerline_tests::signals::noise::gaussian;

use super::{Found, LONG, MIX, compared, gain};

const SPOT: usize = 700_001;

/// The mix with frames of some channels put through `change`, from the spot on.
fn damaged(mix: &Memory, channels: &[usize], frames: usize, change: impl Fn(f64) -> f64) -> Memory {
    let mut export = mix.clone();
    for &channel in channels {
        for sample in &mut export.channels[channel][SPOT..SPOT + frames] {
            *sample = change(*sample);
        }
    }
    export
}

/// What becomes of a word, and what it is called then.
type Case = (fn(f64) -> f64, SpotKind);

#[test]
fn one_wrong_word_is_found_with_its_time() {
    let cases: [Case; 3] = [
        (|_| 1.0, SpotKind::Clipped),
        (|x| x + 0.01, SpotKind::Wrong),
        (|x| -x - 0.05, SpotKind::Wrong),
    ];
    for (change, kind) in cases {
        for dithered in [false, true] {
            let whole = if dithered { chains::quantised(&MIX, 16, 2) } else { MIX.clone() };
            let export = damaged(&whole, &[1], 1, change);
            let found = compared(&MIX, &export);
            assert_eq!(found.spots_found, 1, "{}", found.sentence);
            let spot = found.spots[0];
            assert_eq!((spot.export_frame, spot.channel, spot.samples), (SPOT as u64, 1, 1));
            assert_eq!(spot.kind, kind, "an error of {}", spot.error_dbfs);
            assert_eq!(found.verdict, Verdict::Changed);
            assert!(found.codes().contains(&Code::WrongSamples) && !found.within);
        }
    }
}

#[test]
fn a_dropout_of_three_samples_is_found() {
    let found = compared(&MIX, &damaged(&MIX, &[0, 1], 3, |_| 0.0));
    assert_eq!(found.spots_found, 1, "{}", found.sentence);
    let spot = found.spots[0];
    assert_eq!((spot.export_frame, spot.samples, spot.kind), (SPOT as u64, 3, SpotKind::Zeroed));
    found.has_only(&[Code::Dropout]);

    let held = MIX.channels[0][SPOT - 1];
    let found = compared(&MIX, &damaged(&MIX, &[0], 3, |_| held));
    assert_eq!(found.spots[0].kind, SpotKind::Held);
    found.has_only(&[Code::Dropout]);
}

#[test]
fn a_tenth_of_a_second_of_silence_is_an_edit() {
    let found = compared(&MIX, &damaged(&MIX, &[0, 1], 4_800, |_| 0.0));
    assert_eq!(found.edits.len(), 1, "{:?}", found.edits);
    assert_eq!(found.edits[0].kind, EditKind::Silenced);
    found.is_near("length", Some(found.edits[0].length_s), 0.1, 0.001);
    found.is_near("place", Some(found.edits[0].export_s), SPOT as f64 / 48_000.0, 0.001);
    found.is_near("gain", found.gain_db, 0.0, 0.001);
    found.has_only(&[Code::Edited]);
}

#[test]
fn clipping_is_counted_and_not_taken_for_clicks() {
    let loud = LONG.map(|x| (x * gain(9.0)).clamp(-1.0, 1.0));
    let found = compared(&LONG, &loud);
    assert!(found.clipped_runs_added.is_some_and(|runs| runs > 10), "{}", found.sentence);
    assert!(found.codes().contains(&Code::Clipping), "{:?}", found.codes());
    found.is_near("gain", found.gain_db, 9.0, 0.01);
}

#[test]
fn a_limiter_is_told_from_gain() {
    let found = compared(&LONG, &chains::limited(&LONG, 0.3, 0.05));
    found.is_near("gain of what it leaves alone", found.gain_db, 0.0, 0.1);
    found.has_only_limiting();
    let dynamics = found.dynamics.expect("dynamics");
    assert!(dynamics.loud_gain_db < -1.0 && dynamics.most_reduction_db > 3.0, "{dynamics:?}");

    let gently = chains::limited(&LONG, 0.6, 0.05);
    let found = compared(&LONG, &gently);
    assert!(found.codes().contains(&Code::Limiting), "{:?} {:?}", found.dynamics, found.codes());
}

trait Limiting {
    fn has_only_limiting(&self);
}

impl Limiting for ledgerline_measure::compare::Comparison {
    fn has_only_limiting(&self) {
        let codes = self.codes();
        assert!(codes.contains(&Code::Limiting), "{codes:?}");
        for wrong in [Code::Equalised, Code::LossyCoding, Code::GainMoves, Code::ChannelsChanged] {
            assert!(!codes.contains(&wrong), "{wrong:?} in {}", self.sentence);
        }
    }
}

#[test]
fn added_noise_is_neither_coding_nor_a_word() {
    let hiss =
        MIX.each(|channel| (0u64..).zip(channel).map(|(n, x)| x + 1e-3 * gaussian(5, n)).collect());
    let found = compared(&MIX, &hiss);
    found.is_near("residual", found.residual_dbfs.finite(), -60.0, 0.1);
    found.is_near("gain", found.gain_db, 0.0, 0.01);
    found.has_only(&[Code::NoiseAdded]);
}

#[test]
fn a_fade_over_the_whole_is_no_limiter() {
    let frames = LONG.frames() as f64;
    let faded = LONG.each(|channel| {
        (0u64..).zip(channel).map(|(n, x)| x * gain(-6.0 * n as f64 / frames)).collect()
    });
    let codes = compared(&LONG, &faded).codes();
    assert!(codes.contains(&Code::GainMoves), "{codes:?}");
    assert!(!codes.contains(&Code::Limiting) && !codes.contains(&Code::Equalised), "{codes:?}");
}
