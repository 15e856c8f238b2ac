//! Word length and dither. Levels: a step of q leaves q²/12 of rounding, triangular dither three
//! times as much; at 16 bits −101.10 and −96.33 dBFS.

use ledgerline_measure::compare::finding::Code;
use ledgerline_measure::compare::record::{Dither, Verdict};
use ledgerline_tests::chains;

use super::{Found, MIX, compared, gain};

#[test]
fn a_shorter_word_is_told_with_its_dither() {
    let cases = [
        (0, Dither::Plain, -101.10),
        (1, Dither::Rectangular, -98.09),
        (2, Dither::Triangular, -96.33),
    ];
    for (times, dither, dbfs) in cases {
        let found = compared(&MIX, &chains::quantised(&MIX, 16, times));
        assert_eq!(found.words.and_then(|words| words.dither), Some(dither), "{}", found.sentence);
        found.is_near("residual", found.residual_dbfs.finite(), dbfs, 0.1);
        assert_eq!(found.verdict, Verdict::GainOnly, "{}", found.sentence);
        assert!(found.within);
        found.has_only(&[Code::WordLength]);
    }
}

#[test]
fn cut_off_words_are_told_from_rounded_ones() {
    let steps = 32_768.0;
    let found = compared(&MIX, &MIX.map(|x| (x * steps).floor() / steps));
    let dither = found.words.and_then(|words| words.dither);
    assert_eq!(dither, Some(Dither::Truncated), "{}", found.sentence);
}

#[test]
fn dither_is_told_behind_a_gain_too() {
    for (times, dither) in [(0, Dither::Plain), (2, Dither::Triangular)] {
        let export = chains::quantised(&MIX.map(|x| x * gain(-3.3)), 16, times);
        let found = compared(&MIX, &export);
        assert_eq!(found.words.and_then(|words| words.dither), Some(dither), "{}", found.sentence);
        found.is_near("gain", found.gain_db, -3.3, 0.001);
        assert_eq!(found.verdict, Verdict::GainOnly, "{}", found.sentence);
    }
}

#[test]
fn the_same_words_in_a_longer_container_are_identical() {
    let mix = chains::quantised(&MIX, 16, 0);
    let found = compared(&mix, &mix.stated(24));
    assert_eq!(found.verdict, Verdict::Identical);
    assert_eq!(found.export.used_bits, Some(16));
    found.has_only(&[Code::WordLength]);
}
